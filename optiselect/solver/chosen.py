"""The answer of a round of the choice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from optiselect.solver.choice import SpareSteps, Stage
from optiselect.solver.option import Option, Pick
from optiselect.solver.prepare import Prepared
from optiselect.solver.scarce import Scarce


@dataclass
class Chosen:
    """The answer of a round, and how it is carried out link by link.

    Attributes:
        prepared: the options that the answer was chosen from. counted: the scarce resources that were counted.
        stages: the objectives with what is proven of each. spares: as of the `Task`. options: by served link.
        picks: likewise; links may move from one port group to another that takes their fitting as well.
        by_lists: whether a search over part lists proved the objectives after the part numbers.
        fewest_confirmed: whether a plain enumeration says the same of the fewest part numbers.
    """

    prepared: Prepared
    counted: Scarce
    stages: list[Stage]
    spares: Mapping[str, SpareSteps]
    options: Mapping[str, Option]
    by_lists: bool = False
    fewest_confirmed: bool = False
    picks: dict[str, Pick] = field(init=False)

    def __post_init__(self) -> None:
        self.picks = {link_id: option.pick for link_id, option in self.options.items()}


def cost_of_spares(options: Iterable[Option], spares: Mapping[str, SpareSteps]) -> int:
    """What the spares of these options cost, in ten-thousandths of the currency."""
    units: Counter[str] = Counter()
    for option in options if spares else ():
        units.update(dict(option.parts))
    return sum(steps.price * steps.kept(units[part]) for part, steps in spares.items())
