"""What an option is: one way to serve a link, as the choice sees it, and where its figures come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiselect.model.network import Link
from optiselect.model.terms import Rate
from optiselect.rules.fitted import Asked, FittedEnd
from optiselect.solver.distances import NOT_SERVED, Row
from optiselect.solver.fittings import Fit, PortGroup
from optiselect.solver.pairs import Pair
from optiselect.solver.scarce import Resource


@dataclass(frozen=True, eq=False)
class Sheet:
    """All links that ask one rate over one profile of path, beside all pairs that fit it.

    Attributes:
        asked: what is asked, with one path that stands for the profile.
        rows: links with their paths. codes: by pair and row (see `distances`).
        ends: by side, for each light an end that is fitted with it.
    """

    index: int
    asked: Asked
    rows: list[Row]
    pairs: list[Pair]
    ends: tuple[dict[int, FittedEnd], dict[int, FittedEnd]]
    codes: NDArray[np.int32]

    def most_strands(self) -> list[int]:
        """For each row the most strands that a pair which serves it takes."""
        if not self.pairs:
            return [0] * len(self.rows)
        lights = [self.ends[0][pair.a].light for pair in self.pairs]
        strands = np.array([(light.strands or 1) if light is not None else 1 for light in lights], dtype=np.int64)
        most: list[int] = ((self.codes != NOT_SERVED) * strands[:, None]).max(axis=0).tolist()
        return most

    def column(self, row: int) -> bytes:
        """The codes of one row as a key: rows of equal keys are served by the same pairs."""
        return self.codes[:, row].tobytes()


@dataclass(frozen=True, slots=True)
class Pick:
    """How an option is carried out: over which path, from which port groups (positions among the link's groups), with what."""

    path: int
    sheet: int
    pair: int
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


@dataclass(frozen=True)
class LinkRows:
    """A link at one rate: for each of its paths, the sheet and the row there."""

    link: Link
    rate: Rate
    places: tuple[tuple[int, int], ...]
    groups: tuple[tuple[PortGroup, ...], tuple[PortGroup, ...]]


@dataclass(frozen=True)
class OptionList:
    """The options of a link, which it may share with others.

    Attributes:
        names: the options speak of the resources of the link that they were made for; here is what this link calls them.
    """

    options: tuple[Option, ...]
    names: Mapping[Resource, Resource | None]

    def uses(self, option: Option) -> tuple[tuple[Resource, int], ...]:
        """What an option takes of each scarce resource of this link."""
        return tuple((self.names.get(resource) or resource, amount) for resource, amount in option.uses)
