"""What if: a case, its variants, and what becomes of the plan."""

from optiselect.study.case import Case
from optiselect.study.comparison import Comparison, compare
from optiselect.study.edits import Add, BuyOnly, Remove, Scale, Set, Shift
from optiselect.study.front import Front, FrontPoint, trade_off
from optiselect.study.result import Outcome, StudyResult
from optiselect.study.study import Study, StudyProgress
from optiselect.study.variants import Spread, Variant

__all__ = [
    "Add",
    "BuyOnly",
    "Case",
    "Comparison",
    "Front",
    "FrontPoint",
    "Outcome",
    "Remove",
    "Scale",
    "Set",
    "Shift",
    "Spread",
    "Study",
    "StudyProgress",
    "StudyResult",
    "Variant",
    "compare",
    "trade_off",
]
