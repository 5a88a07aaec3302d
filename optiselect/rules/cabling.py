"""The cabling of a path: all that its runs state but names, lengths, counts and losses. Paths that are cabled alike share one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from optiselect.model.network import Run
from optiselect.model.terms import CORE_OF, Category, Connector, Core, Grade, Medium, Polish, mode_of

_LEAST_FIRST: tuple[Category, ...] = ("twisted-pair", "Cat5e", "Cat6", "Cat6A", "single-pair", "coax")
Shown = tuple[Connector, Polish | None] | None
"""Connector and polish at an end of a run; None where it states no connectors."""
_Cable = tuple[Grade | None, tuple[Connector, Connector] | None, tuple[Polish, Polish] | None, bool, Category | None]


@dataclass(frozen=True, eq=False)
class Cabling:
    """What paths of one cabling have in common.

    Attributes:
        medium: of the runs (a chain is of one medium; copper of its category's kind).
        category: of copper, None for fiber; of a chain of several, the least.
        grades, cores: of fiber as stated, each once, sorted. is_multimode: whether any of it is.
        is_measured: whether a modal bandwidth is stated.
        shown: what each run shows at its end towards the path's first end, and towards its last.
        profile: what a rule of a pair may look at, places and measured bandwidths aside.
    """

    medium: Medium
    category: Category | None
    grades: tuple[Grade, ...]
    cores: tuple[Core, ...]
    is_multimode: bool
    is_measured: bool
    shown: tuple[tuple[Shown, Shown], ...]
    profile: tuple[object, ...]


def cabling_of(runs: Sequence[Run], flipped: tuple[bool, ...]) -> Cabling:
    """The cabling of a chain of runs; `flipped`: for each, whether it is walked from its second end to its first."""
    cables: list[_Cable] = []
    for run in runs:
        fiber = run.fiber
        if fiber is not None:
            cables.append((fiber.grade, fiber.connectors, fiber.polish, bool(fiber.modal_bandwidth_mhz_km), None))
        else:
            cables.append((None, None, None, False, run.copper.category if run.copper is not None else None))
    return _cabling(tuple(cables), flipped)


@lru_cache(maxsize=65_536)
def _cabling(cables: tuple[_Cable, ...], flipped: tuple[bool, ...]) -> Cabling:
    grades = tuple(sorted({grade for grade, *_ in cables if grade is not None}))
    categories = [category for *_, category in cables if category is not None]
    category = min(categories, key=_LEAST_FIRST.index) if categories else None
    shown = tuple(_shown(connectors, polish, turned) for (_, connectors, polish, *_), turned in zip(cables, flipped, strict=True))
    medium = _medium(cables[0])
    joints = tuple((before[1], after[0]) for before, after in pairwise(shown))
    return Cabling(
        medium=medium,
        category=category,
        grades=grades,
        cores=tuple(sorted({CORE_OF[grade] for grade in grades})),
        is_multimode=any(mode_of(grade) == "multimode" for grade in grades),
        is_measured=any(measured for *_, measured, _ in cables),
        shown=shown,
        profile=(medium, category, grades, shown[0][0], shown[-1][1], joints),
    )


def _medium(cable: _Cable) -> Medium:
    grade, *_, category = cable
    if grade is not None:
        return "fiber"
    return "single-pair" if category == "single-pair" else "coax" if category == "coax" else "copper"


def _shown(connectors: tuple[Connector, Connector] | None, polish: tuple[Polish, Polish] | None, turned: bool) -> tuple[Shown, Shown]:
    if connectors is None:
        return None, None
    first, second = ((connectors[end], polish[end] if polish else None) for end in (0, 1))
    return (second, first) if turned else (first, second)
