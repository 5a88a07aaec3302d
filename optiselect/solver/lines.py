"""Options of a link as lines of figures: put together from pieces by numpy, and only those that nothing makes pointless are made.

An option is one way over one path with one pair of lights, and a fitting at each end. Its figures are the sums of what these
three pieces say, its part numbers are theirs together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.dominance import BITS, SUMS, undominated_rows
from optiselect.solver.scarce import Resource

_UNKNOWN = 2
Triple = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Piece:
    """What a way, or the fitting of one end, adds to an option.

    Attributes:
        measures: as in `Option.measures`. parts: counted part numbers, one for each unit.
        uses: what it takes of each scarce resource. says: what it stands for.
    """

    measures: tuple[int, ...]
    parts: tuple[str, ...]
    uses: tuple[tuple[Resource, int], ...]
    says: Any


class Lines:
    """Options of one link under comparison, each a triple of pieces.

    Args:
        counted: places in `Piece.measures` that are compared, None for all.
    """

    def __init__(self, *, count_units: bool, counted: frozenset[int] | None) -> None:
        self._count_units = count_units
        self._ignored = [] if counted is None else [_UNKNOWN + place for place in range(SUMS - _UNKNOWN) if place not in counted]
        self.pieces: list[Piece] = []
        self._numbers: dict[Hashable, int] = {}
        self.triples: list[Triple] = []

    def piece(self, piece: Piece) -> int:
        """Enter a piece; its number."""
        self.pieces.append(piece)
        return len(self.pieces) - 1

    def add(self, way: int, at_a: Iterable[int], at_b: Iterable[int]) -> None:
        """Enter every option of one way with one of these fittings at each end."""
        self.triples += product((way,), at_a, at_b)

    def undominated(self) -> tuple[list[Triple], list[list[int]]]:
        """The options that none makes pointless, in a fixed order, each with its measures."""
        if not self.triples:
            return [], []
        resources = _numbered(resource for piece in self.pieces for resource, _ in piece.uses)
        parts = _numbered(part for piece in self.pieces for part in piece.parts)
        figures, bits = self._arrays(resources, parts)
        lines = np.array(self.triples, dtype=np.int32)
        vectors = figures[lines].sum(axis=1)
        np.minimum(vectors[:, _UNKNOWN], 1, out=vectors[:, _UNKNOWN])
        masks = bits[lines[:, 0]] | bits[lines[:, 1]] | bits[lines[:, 2]]
        compared = vectors
        if self._ignored:
            compared = vectors.copy()
            compared[:, self._ignored] = 0
        front = undominated_rows(compared, masks, lines)
        return [self.triples[line] for line in front.tolist()], vectors[front, _UNKNOWN:SUMS].tolist()

    def _arrays(self, resources: dict[Any, int], parts: dict[Any, int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """What each piece adds to a line of figures, and its part numbers as bits (none where units count: the figures say it)."""
        units = SUMS + len(resources)
        figures = np.zeros((len(self.pieces), units + (len(parts) if self._count_units else 0)), dtype=np.int64)
        bits = np.zeros((len(self.pieces), 1 if self._count_units else len(parts) // BITS + 1), dtype=np.int64)
        figures[:, _UNKNOWN:SUMS] = [piece.measures for piece in self.pieces]
        for row, piece in enumerate(self.pieces):
            for resource, amount in piece.uses:
                figures[row, SUMS + resources[resource]] += amount
            for part in piece.parts:
                if self._count_units:
                    figures[row, units + parts[part]] += 1
                else:
                    bits[row, parts[part] // BITS] |= 1 << (parts[part] % BITS)
        return figures, bits


def _numbered(names: Iterable[Hashable]) -> dict[Any, int]:
    return {name: number for number, name in enumerate(dict.fromkeys(names))}


def summed(pieces: Sequence[Piece]) -> dict[Resource, int]:
    """What pieces take of each scarce resource together."""
    uses: dict[Resource, int] = {}
    for piece in pieces:
        for resource, amount in piece.uses:
            uses[resource] = uses.get(resource, 0) + amount
    return uses


@lru_cache(maxsize=65_536)
def units_of(*parts: tuple[str, ...]) -> tuple[tuple[tuple[str, int], ...], frozenset[str]]:
    """Part numbers of pieces with their units, sorted, and alone; options of the same parts share them."""
    units = Counter(part for each in parts for part in each)
    return tuple(sorted(units.items())), frozenset(units)
