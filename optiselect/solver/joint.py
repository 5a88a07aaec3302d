"""What links of a cluster can do together, as lines of figures: one link after another is joined to those before it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optiselect.solver.dominance import BITS, SUMS, undominated_rows
from optiselect.solver.joined import Member

NO_LIMIT = np.iinfo(np.int64).max // 4
Units = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The options of a link, and "not served" as the last line where that is one.

    Attributes:
        taken: of each line the position of its option, -1 for none. sums: what counts, the rest 0; less is better.
        uses: what it takes of each scarce resource, in the order of the list. parts: part numbers with their units.
    """

    taken: NDArray[np.int32]
    sums: NDArray[np.int64]
    uses: NDArray[np.int64]
    parts: Sequence[Units]


@dataclass(frozen=True, slots=True)
class Joint:
    """What some links can do together.

    Attributes:
        taken: by line the position of the option of each link, -1 for none.
        vectors: sums, then what is taken of each resource, then (where units count) units of each part: in all of it less is better.
        masks: the part numbers as bits (none where units count: the units say it).
        named: how many resources. parts: the place of each part number.
    """

    taken: NDArray[np.int32]
    vectors: NDArray[np.int64]
    masks: NDArray[np.int64]
    named: int
    parts: Mapping[str, int]


NOBODY = Joint(np.zeros((1, 0), dtype=np.int32), np.zeros((1, SUMS), dtype=np.int64), np.zeros((1, 1), dtype=np.int64), 0, {})
"""No link yet."""


def table_of(member: Member, counted: Collection[int], *, count_units: bool, is_served: bool) -> Table:
    """The options of a link that are not pointless; `counted`: places in `Way.sums` that matter. is_served: whether it may not be left out."""
    size, places = len(member.options) + (not is_served), {resource: place for place, resource in enumerate(member.found.taken)}
    sums = np.zeros((size, SUMS), dtype=np.int64)
    uses = np.zeros((size, len(places)), dtype=np.int64)
    for row, option in enumerate(member.options):
        said = (-int(member.critical), -member.weight, *option.measures())
        for column in counted:
            sums[row, column] = said[column]
        for resource, amount in option.uses:
            uses[row, places[resource]] += amount
    left_out = [] if is_served else [-1]
    taken = np.array([[*range(len(member.options)), *left_out]], dtype=np.int32).T
    parts: list[Units] = [*(option.parts for option in member.options), *(() for _ in left_out)]
    sums_told, units_told = member.found.compared
    if units_told == count_units and sums_told is not None and {place + 2 for place in sums_told} == {place for place in counted if place >= 2}:
        return Table(taken, sums, uses, parts)  # the list has been looked through in this way
    units, masks = _marked(parts, _numbered(parts, {}), count_units)
    front = undominated_rows(np.hstack([sums, uses, units]), masks, taken)
    return Table(taken[front], sums[front], uses[front], [parts[row] for row in front.tolist()])


def joined_by(
    joint: Joint,
    table: Table,
    own: Sequence[int],
    limits: NDArray[np.int64],
    apart: Sequence[tuple[int, int]],
    waiting: Collection[int],
    settled: Sequence[int],
    *,
    count_units: bool,
) -> Joint:
    """The same with one link more: everything that has room and is not pointless.

    Args:
        own: the number of each resource of the table. limits: by number, of all resources that are named so far.
        apart: pairs of these resources of which only one may be used. waiting: those of which later links may take something, or which must
            stay apart from one of these; of the others there is enough as soon as there is room.
        settled: places in the sums that must be as small as can be, one after another.
    """
    named = len(limits)
    parts = _numbered(table.parts, joint.parts)
    units, marks = _marked(table.parts, parts, count_units)
    told = SUMS + joint.named
    vectors = np.zeros((len(joint.vectors), len(table.sums), SUMS + named + units.shape[1]), dtype=np.int64)
    vectors[:, :, :SUMS] = joint.vectors[:, None, :SUMS] + table.sums
    vectors[:, :, SUMS:told] = joint.vectors[:, None, SUMS:told]
    for place, number in enumerate(own):
        vectors[:, :, SUMS + number] += table.uses[:, place]
    if count_units:
        vectors[:, :, SUMS + named :] = units
        vectors[:, :, SUMS + named : SUMS + named + len(joint.parts)] += joint.vectors[:, None, told:]
    vectors = vectors.reshape(-1, vectors.shape[2])
    words = np.zeros((len(joint.masks), marks.shape[1]), dtype=np.int64)
    words[:, : joint.masks.shape[1]] = joint.masks
    masks = (words[:, None, :] | marks).reshape(-1, marks.shape[1])
    taken = np.hstack([np.repeat(joint.taken, len(table.taken), axis=0), np.tile(table.taken, (len(joint.taken), 1))])
    room = (vectors[:, SUMS : SUMS + named] <= limits).all(axis=1)
    for first, second in apart:
        room &= (vectors[:, SUMS + first] == 0) | (vectors[:, SUMS + second] == 0)
    taken, vectors, masks = taken[room], vectors[room], masks[room]
    if not len(taken):
        return Joint(taken, vectors, masks, named, parts)
    enough = [SUMS + number for number in range(named) if number not in waiting]
    has_new_equals = joint is not NOBODY or bool(vectors[:, enough].any())  # else the table is free of pointless lines
    vectors[:, enough] = 0
    for place in settled:
        best = vectors[:, place] == vectors[:, place].min()
        taken, vectors, masks = taken[best], vectors[best], masks[best]
    if has_new_equals:
        front = undominated_rows(vectors, masks, taken)
        taken, vectors, masks = taken[front], vectors[front], masks[front]
    return Joint(taken, vectors, masks, named, parts)


def _numbered(lines: Sequence[Units], known: Mapping[str, int]) -> dict[str, int]:
    """The places of part numbers, after those that are known."""
    places = dict(known)
    for line in lines:
        for part, _ in line:
            places.setdefault(part, len(places))
    return places


def _marked(lines: Sequence[Units], places: Mapping[str, int], count_units: bool) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The units of each part by line (nothing where they do not count), and else its part numbers as bits."""
    units = np.zeros((len(lines), len(places) if count_units else 0), dtype=np.int64)
    masks = np.zeros((len(lines), 1 if count_units else len(places) // BITS + 1), dtype=np.int64)
    for row, line in enumerate(lines):
        for part, count in line:
            if count_units:
                units[row, places[part]] = count
            else:
                masks[row, places[part] // BITS] |= 1 << (places[part] % BITS)
    return units, masks
