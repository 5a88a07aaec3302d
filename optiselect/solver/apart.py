"""A proof of the fewest part numbers by itself, on every solve: plain enumeration, which shares nothing with the search but the rows.

Each row that is always served goes one of its ways, and needs the part numbers of that way. Whether fewer than the plan has would do for all
such rows is tried out: the row with the fewest ways left, each of them in turn, back where rows that have no part number in common need more
than is left. What can run short is left out, which only allows more: where fewer will not do even so, nobody's plan has fewer. Where nothing
can run short, and fewer would do, the plan was not the best. Most sites take a few dozen steps, so it costs less than one in a hundred.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optiselect.solver.choice import SUM_OF, Row, Stage, Task, settled_first
from optiselect.solver.confirm import Disagreement

MOST_WAYS, MOST_LOOKS = 40_000, 400_000
"""How many different ways of rows are gone into, and how many of them are looked at: counted, not timed, so that a plan is the same anywhere."""


def fewest_confirmed(task: Task, stages: Sequence[Stage]) -> bool:
    """Whether the part numbers of a task are the fewest by this proof as well; False where it does not apply, or did not come to an end.

    It applies to a proven number that comes right after the objectives which each row settles by itself.

    Raises:
        Disagreement: when fewer will do.
    """
    before = settled_first(task.objectives, bool(task.spares))
    place = len(before)
    if task.most_part_numbers is not None or task.objectives[place : place + 1] != ("part_numbers",) or not stages[place].proven:
        return False
    settled = [SUM_OF[name] for name in before]
    served = [row for row in task.rows if row.always_served]
    fewer = _fewer_will_do([_best(row, settled) for row in served], stages[place].value)
    if fewer and not any(row.is_scarce for row in task.rows):
        raise Disagreement(f"part_numbers: the plan has {stages[place].value}, and a plain enumeration serves everything with fewer")
    return fewer is False


def _best(row: Row, settled: Sequence[int]) -> set[frozenset[str]]:
    """The part numbers of the ways that a row may go: where nothing runs short, only those best in what is settled first."""
    if row.is_scarce:
        return {way.names for way in row.ways}
    sums = [tuple(way.sums[place] for place in settled) for way in row.ways]
    least = min(sums)
    return {way.names for way, own in zip(row.ways, sums, strict=True) if own == least}


def _fewer_will_do(rows: Iterable[set[frozenset[str]]], count: int) -> bool | None:
    """Whether fewer than so many part numbers serve all rows; None where that is too much to look at."""
    kinds = {frozenset(names) for names in rows}
    if sum(map(len, kinds)) > MOST_WAYS:
        return None
    bit = {part: 1 << place for place, part in enumerate(sorted({part for names in kinds for each in names for part in each}))}
    masks = sorted(sorted(sum(bit[part] for part in each) for each in names) for names in kinds)
    try:
        return _Enumeration().serves(masks, 0, count - 1)
    except _TooMuch:
        return None


class _Enumeration:
    """The trying out: sets of part numbers that do not serve are remembered."""

    def __init__(self) -> None:
        self._failed: set[int] = set()
        self._looks = 0

    def serves(self, rows: Iterable[Sequence[int]], taken: int, left: int) -> bool:
        """Whether so many more part numbers serve these rows, of which each says what its ways need beside those taken.

        Raises:
            _TooMuch: when it took too many looks.
        """
        if taken in self._failed:
            return False
        open_rows = self._open(rows, taken, left)
        if open_rows is None or _apart(open_rows) > left:
            served = False
        else:
            served = not open_rows or any(self.serves(open_rows, taken | more, left - more.bit_count()) for more in open_rows[0])
        if not served:
            self._failed.add(taken)
        return served

    def _open(self, rows: Iterable[Sequence[int]], taken: int, left: int) -> list[list[int]] | None:
        """What the rows that are not served yet need more, fewest ways first; None where one of them needs more than is left."""
        found = []
        for ways in rows:
            self._looks += len(ways)
            more = [way & ~taken for way in ways]
            if 0 in more:
                continue
            few = [each for each in more if each.bit_count() <= left]
            if not few:
                return None
            found.append(few)
        if self._looks > MOST_LOOKS:
            raise _TooMuch
        return sorted(found, key=len)


class _TooMuch(Exception):
    """It takes more looks than are worth it."""


def _apart(rows: Iterable[list[int]]) -> int:
    """How many part numbers rows need that have none in common."""
    met = needed = 0
    for ways in rows:
        several = 0
        for way in ways:
            several |= way
        if not several & met:
            met |= several
            needed += min(way.bit_count() for way in ways)
    return needed
