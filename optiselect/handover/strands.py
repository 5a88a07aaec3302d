"""Which strand carries what: handed out the same way every time, since a plan says how many strands a link takes and not which.

Assumed, and said on the sheet: the strands that are in use already are those of the lowest numbers, the reserved ones those of
the highest. Between them parallel links come first, then pairs, then single strands, each by link id, on the lowest free
numbers; a pair keeps to an odd number and the even one after it, and eight strands to one row of eight, as long as there are such.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

from optiselect.errors import OptiselectError
from optiselect.model.network import Network
from optiselect.model.plan import PlannedLink
from optiselect.rules.fitted import FittedLink, Path


@dataclass(frozen=True)
class StrandUse:
    """What one strand of a run carries.

    Attributes:
        link: its id.
        sender, receiver: ``device/port``; on a single strand both send, and the link's first end is named first.
        both_ways: whether light goes both ways.
        wavelengths_nm: windows of the senders, the named sender's first.
        toward_end_b: whether the sender is on the side of the run's first end.
        meets: what the strand meets at the run's two ends, in the order of `Run.ends`.
    """

    link: str
    sender: str
    receiver: str
    both_ways: bool
    wavelengths_nm: tuple[tuple[float, float] | None, ...]
    toward_end_b: bool
    meets: tuple[str, str]


def hand_out(served: Iterable[tuple[PlannedLink, FittedLink]], network: Network) -> dict[str, dict[int, StrandUse]]:
    """Give each link its strands on every run of its path.

    Args:
        served: the links, by id.
        network: says which strands are in use.

    Returns:
        By run id, the use of each strand that a link takes, by strand number from 1.

    Raises:
        OptiselectError: when a plan that was changed by hand takes no strand, or more than there are.
    """
    lit = [(planned, fitted) for planned, fitted in served if fitted.path.medium == "fiber"]
    free = {run.id: _Free(run.fiber.strands_in_use + 1, run.fiber.strands) for run in network.runs if run.fiber}
    uses: dict[str, dict[int, StrandUse]] = {}
    for planned, fitted in sorted(lit, key=lambda pair: (-_width(pair[0]), pair[0].id)):
        taken = [_take(free[run_id], planned.strands.get(run_id, 0), planned.id, run_id) for run_id in planned.over]
        for step, run_id in enumerate(planned.over):
            for position, number in enumerate(taken[step]):
                uses.setdefault(run_id, {})[number] = _use(planned, fitted, taken, step, position)
    return uses


def sends_from_a(position: int, width: int) -> bool:
    """Whether the strand at this place among a link's strands is lit by the link's first end: the first half is."""
    return position < max(1, width // 2)


def _width(planned: PlannedLink) -> int:
    return max(planned.strands.values(), default=0)


class _Free:
    """The strands of a run that are left. They only become fewer, so what was passed over once is not looked at again."""

    def __init__(self, first: int, last: int) -> None:
        self.numbers = set(range(first, last + 1))
        self._lowest, self._last = first, last
        self._rows: dict[int, int] = {}

    def whole_row(self, count: int) -> tuple[int, ...]:
        """The lowest so many in a row that begins where such rows do: a pair with an odd number, eight with 1, 9, 17; nothing when there is none."""
        start = self._rows.get(count, self._lowest + (1 - self._lowest) % count)
        while start <= self._last and not self.numbers.issuperset(range(start, start + count)):
            start += count
        self._rows[count] = start
        return tuple(range(start, start + count)) if start <= self._last else ()

    def lowest(self, count: int) -> tuple[int, ...]:
        """The lowest so many, which must be there."""
        while self._lowest not in self.numbers:
            self._lowest += 1
        return tuple(islice((number for number in range(self._lowest, self._last + 1) if number in self.numbers), count))


def _take(free: _Free, count: int, link_id: str, run_id: str) -> tuple[int, ...]:
    """The lowest free strands; a pair or a row of eight is kept together where one is left."""
    if not 0 < count <= len(free.numbers):
        raise OptiselectError(f"link {link_id!r} is to have {count} strands of run {run_id!r}, of which {len(free.numbers)} are left; plan again")
    chosen = (free.whole_row(count) if count > 1 else ()) or free.lowest(count)
    free.numbers.difference_update(chosen)
    return chosen


def _use(planned: PlannedLink, fitted: FittedLink, taken: list[tuple[int, ...]], step: int, position: int) -> StrandUse:
    names = (f"{planned.ends[0].device}/{planned.ends[0].port}", f"{planned.ends[1].device}/{planned.ends[1].port}")
    width = len(taken[step])
    both = width == 1
    from_a = sends_from_a(position, width)
    windows = tuple(end.light.tx_nm if end.light else None for end in fitted.ends)
    path = fitted.path
    before = _meets(path, taken, step, position, names[0], -1, both=both, sends=from_a)
    after = _meets(path, taken, step, position, names[1], 1, both=both, sends=not from_a)
    flipped = path.flipped[step]
    return StrandUse(
        link=planned.id,
        sender=names[0] if from_a else names[1],
        receiver=names[1] if from_a else names[0],
        both_ways=both,
        wavelengths_nm=windows if both else (windows[0 if from_a else 1],),
        toward_end_b=from_a != flipped,
        meets=(after, before) if flipped else (before, after),
    )


def _meets(path: Path, taken: list[tuple[int, ...]], step: int, position: int, name: str, side: int, *, both: bool, sends: bool) -> str:
    """What a strand meets before (-1) or after (1) its run: a strand of the next run at a panel, or a socket of the device."""
    neighbor = step + side
    if 0 <= neighbor < len(path.runs):
        panel = path.panels[step if side == 1 else step - 1]
        return f"{panel.id}: {path.runs[neighbor].id} strand {taken[neighbor][position]}"
    return f"{name} {'single-strand socket' if both else 'transmit' if sends else 'receive'}"
