"""What an option is: one way to serve a link, as the choice sees it, and where its figures come from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optiselect.model.network import Link
from optiselect.model.terms import Rate
from optiselect.rules.fitted import Asked, FittedEnd, Path
from optiselect.solver.distances import NOT_SERVED
from optiselect.solver.fittings import Fit, PortGroup
from optiselect.solver.pairs import Pair
from optiselect.solver.scarce import Resource


@dataclass(frozen=True, eq=False)
class Sheet:
    """All links that ask one rate over one profile of path, beside all pairs that fit it.

    Attributes:
        asked: what is asked, with one path that stands for the profile.
        asks: a number for the rate, the medium and the waived rules. paths: of each row. codes: by pair and row (see `distances`).
        served: a number for each row; rows of one number are served by the same pairs in the same way, on whatever sheet they are.
        ends: by side, for each light an end that is fitted with it.
    """

    index: int
    asked: Asked
    asks: int
    paths: list[Path]
    pairs: list[Pair]
    ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]]
    codes: NDArray[np.int32]
    served: list[int]

    @cached_property
    def most_strands(self) -> list[int]:
        """For each row the most strands that a pair which serves it takes."""
        if not self.pairs:
            return [0] * len(self.paths)
        lights = [self.ends[0][pair.a].light for pair in self.pairs]
        strands = np.array([(light.strands or 1) if light is not None else 1 for light in lights], dtype=np.int64)
        most: list[int] = ((self.codes != NOT_SERVED) * strands[:, None]).max(axis=0).tolist()
        return most


@dataclass(frozen=True, slots=True)
class Pick:
    """How an option is carried out: over which path, from which port groups (positions among the link's groups), with what."""

    path: int
    pair: Pair
    code: int
    group_a: int
    group_b: int
    fit_a: Fit
    fit_b: Fit


@dataclass(frozen=True, slots=True)
class Option:
    """One way to serve a link, as the choice sees it.

    Attributes:
        parts: counted part numbers (modules, converters, attenuators) with their units, sorted.
        names: the part numbers alone.
        cost: ten-thousandths of the currency. bought: units to buy, by part number.
        uses: what it takes of each scarce resource.
    """

    parts: tuple[tuple[str, int], ...]
    names: frozenset[str]
    cost: int
    strands: int
    modules: int
    changes: int
    unknown: int
    disliked: int
    uses: tuple[tuple[Resource, int], ...]
    pick: Pick

    def measures(self) -> tuple[int, ...]:
        """Everything that counts beside part numbers and scarce resources; less is better."""
        return self.unknown, self.cost, self.strands, self.modules, self.changes, self.disliked


def parts_of(options: Iterable[Option]) -> frozenset[str]:
    """All counted part numbers of options; few of those of many links differ."""
    return frozenset().union(*{id(option): option.names for option in options}.values())


COST = 1
"""The place of the cost in `Option.measures`."""


@dataclass(frozen=True)
class Wanted:
    """Which options a search looks at.

    Attributes:
        only: the part numbers that it may use, None for all. without: those that it leaves out.
        counted: places in `Option.measures` that matter to it, None for all.
    """

    only: frozenset[str] | None = None
    without: frozenset[str] = frozenset()
    counted: frozenset[int] | None = None

    def allows(self, parts: Iterable[str]) -> bool:
        """Whether an option may use these part numbers."""
        return self.without.isdisjoint(parts) and (self.only is None or self.only.issuperset(parts))


class LinkRows(NamedTuple):
    """A link at one rate: for each of its paths, the sheet and the row there."""

    link: Link
    rate: Rate
    places: tuple[tuple[int, int], ...]
    groups: tuple[tuple[PortGroup, ...], tuple[PortGroup, ...]]


@dataclass(frozen=True)
class OptionList:
    """The options of a link, which it may share with others.

    Attributes:
        taken: the resources that some option takes.
        compared: by which measures pointless ones were left out, as `Wanted.counted`, and whether units of each part counted.
        names: the options speak of the resources of the link that they were made for; here is
            what this link calls them.
    """

    options: tuple[Option, ...]
    taken: tuple[Resource, ...]
    compared: tuple[frozenset[int] | None, bool]
    names: Mapping[Resource, Resource | None]

    def uses(self, option: Option) -> tuple[tuple[Resource, int], ...]:
        """What an option takes of each scarce resource of this link."""
        return tuple((self.names.get(resource) or resource, amount) for resource, amount in option.uses)
