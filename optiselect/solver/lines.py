"""Options of a link as lines of figures: put together from pieces by numpy, and only those that nothing makes pointless are made.

An option is one way over one path with one pair of lights, and a fitting at each end. Its figures are the sums of what these
three pieces say, its part numbers are theirs together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.dominance import BITS, FEW, SUMS, beaten_within, undominated_rows
from optiselect.solver.scarce import Resource

_UNKNOWN = 2
MOST_PAIRS = 300_000
"""So many pairs of lines are compared at once: some hundredths of a second."""
Triple = tuple[int, int, int]
Undominated = tuple[list[Triple], list[list[int]]]
"""Options that none makes pointless, in a fixed order, each with its measures."""


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
        self.count_units = count_units
        self.ignored = [] if counted is None else [_UNKNOWN + place for place in range(SUMS - _UNKNOWN) if place not in counted]
        self.pieces: list[Piece] = []
        self.triples: list[Triple] = []

    def enter(self, pieces: Sequence[Piece]) -> range:
        """Enter pieces; their numbers."""
        self.pieces += pieces
        return range(len(self.pieces) - len(pieces), len(self.pieces))

    def add(self, ways: Iterable[int], at_a: Iterable[int], at_b: Iterable[int]) -> None:
        """Enter every option of one of these ways with one of these fittings at each end."""
        self.triples += product(ways, at_a, at_b)

    @property
    def pairs(self) -> int:
        """How many pairs of options there are to compare."""
        return len(self.triples) ** 2 // 2

    def undominated(self) -> Undominated:
        """The options that none makes pointless."""
        if not self.triples:
            return [], []
        resources = _numbered(resource for piece in self.pieces for resource, _ in piece.uses)
        parts = _numbered(part for piece in self.pieces for part in piece.parts)
        figures, bits = self._arrays(resources, parts)
        lines = np.array(self.triples, dtype=np.int32)
        vectors, masks = _added(figures, bits, lines)
        compared = vectors
        if self.ignored:
            compared = vectors.copy()
            compared[:, self.ignored] = 0
        front = undominated_rows(compared, masks, lines)
        return [self.triples[line] for line in front.tolist()], vectors[front, _UNKNOWN:SUMS].tolist()

    def _arrays(self, resources: dict[Any, int], parts: dict[Any, int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """What each piece adds to a line of figures, and its part numbers as bits (none where units count: the figures say it)."""
        units = SUMS + len(resources)
        figures = np.zeros((len(self.pieces), units + (len(parts) if self.count_units else 0)), dtype=np.int64)
        figures[:, _UNKNOWN:SUMS] = [piece.measures for piece in self.pieces]
        for row, piece in enumerate(self.pieces):
            for resource, amount in piece.uses:
                figures[row, SUMS + resources[resource]] += amount
            for part in piece.parts if self.count_units else ():
                figures[row, units + parts[part]] += 1
        return figures, np.zeros((len(self.pieces), 1), dtype=np.int64) if self.count_units else _bits(self.pieces, parts)


def undominated_of(several: Sequence[Lines]) -> list[Undominated]:
    """`Lines.undominated` of the options of several links, in their order; those of few lines are compared together.

    All must compare the same figures.
    """
    together = [lines for lines in several if 0 < len(lines.triples) <= FEW and not lines.count_units]
    found = {id(lines): its for lines, its in zip(together, _compared_together(together) if together else [], strict=True)}
    return [found.get(id(lines)) or lines.undominated() for lines in several]


def _compared_together(several: Sequence[Lines]) -> list[Undominated]:
    """The same, where units do not count; a piece that several lists hold is read once."""
    pieces: list[Piece] = []
    rows: dict[int, int] = {}
    uses: list[tuple[int, int, int]] = []
    row_of: list[int] = []
    begins: list[int] = []
    for lines in several:
        begins.append(len(row_of))
        resources = _numbered(resource for piece in lines.pieces for resource, _ in piece.uses)
        for piece in lines.pieces:
            row = len(pieces) if piece.uses else rows.setdefault(id(piece), len(pieces))
            if row == len(pieces):
                pieces.append(piece)
                uses += [(row, SUMS + resources[resource], amount) for resource, amount in piece.uses]
            row_of.append(row)
    figures = np.zeros((len(pieces), max((column + 1 for _, column, _ in uses), default=SUMS)), dtype=np.int64)
    figures[:, _UNKNOWN:SUMS] = [piece.measures for piece in pieces]
    for row, column, amount in uses:
        figures[row, column] += amount
    bits = _bits(pieces, _numbered(part for piece in pieces for part in piece.parts))
    sizes = np.array([len(lines.triples) for lines in several], dtype=np.intp)
    triples = np.array([triple for lines in several for triple in lines.triples], dtype=np.int32)
    list_of = np.repeat(np.arange(len(several)), sizes)
    held = np.array(row_of, dtype=np.intp)[triples + np.array(begins, dtype=np.intp)[list_of, None]]
    vectors, masks = _added(figures, bits, held)
    compared = vectors[:, (vectors != vectors[0]).any(axis=0) & ~np.isin(np.arange(vectors.shape[1]), several[0].ignored)]
    order = np.lexsort((*triples.T[::-1], *compared.T[::-1], np.bitwise_count(masks).sum(axis=1), list_of))
    front = order[~beaten_within(compared[order], masks[order], sizes)]
    found: list[Undominated] = [([], []) for _ in several]
    first = np.cumsum(sizes) - sizes
    for place, line, measures in zip(list_of[front].tolist(), (front - first[list_of[front]]).tolist(), vectors[front, _UNKNOWN:SUMS].tolist(), strict=True):
        found[place][0].append(several[place].triples[line])
        found[place][1].append(measures)
    return found


def _added(figures: NDArray[np.int64], bits: NDArray[np.int64], held: NDArray[np.integer[Any]]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The figures and the part numbers of lines, from those of the three pieces that each holds."""
    vectors = figures[held].sum(axis=1)
    np.minimum(vectors[:, _UNKNOWN], 1, out=vectors[:, _UNKNOWN])
    return vectors, bits[held[:, 0]] | bits[held[:, 1]] | bits[held[:, 2]]


def _bits(pieces: Sequence[Piece], parts: Mapping[str, int]) -> NDArray[np.int64]:
    """The part numbers of each piece as bits."""
    bits = np.zeros((len(pieces), len(parts) // BITS + 1), dtype=np.int64)
    for row, piece in enumerate(pieces):
        for part in piece.parts:
            bits[row, parts[part] // BITS] |= 1 << (parts[part] % BITS)
    return bits


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
