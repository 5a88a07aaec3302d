"""What if: a case, its variants, and what becomes of the plan."""

from optiselect.study.case import Case
from optiselect.study.comparison import Comparison, compare
from optiselect.study.doubts import Doubt
from optiselect.study.edits import Add, BuyOnly, Remove, Scale, Set, Shift
from optiselect.study.follower import Follower
from optiselect.study.front import Front, FrontPoint, trade_off
from optiselect.study.migration import Migration, migration
from optiselect.study.result import Outcome, StudyResult
from optiselect.study.sensitivity import BreakingPoint, Sensitivity, sensitivity
from optiselect.study.study import Study, StudyProgress
from optiselect.study.variants import Spread, Variant

__all__ = [
    "Add",
    "BreakingPoint",
    "BuyOnly",
    "Case",
    "Comparison",
    "Doubt",
    "Follower",
    "Front",
    "FrontPoint",
    "Migration",
    "Outcome",
    "Remove",
    "Scale",
    "Sensitivity",
    "Set",
    "Shift",
    "Spread",
    "Study",
    "StudyProgress",
    "StudyResult",
    "Variant",
    "compare",
    "migration",
    "sensitivity",
    "trade_off",
]
