"""Which figure, if off by how much, changes the plan.

A figure is moved from what it is towards its limit. Where the plan as it stands breaks a rule first is found by halving,
with the check of a finished plan; then the network is solved once on each side of that point: before it the plan must be
the same, else something better turns up sooner, and that point is found by halving too. Both sides of a point that is told
have been looked at. Halving takes it that what is broken at one figure stays broken beyond it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from optiselect.errors import OptiselectError
from optiselect.model.plan import Plan
from optiselect.solver.audit import check
from optiselect.solver.solve import solve_bare
from optiselect.study.case import Case
from optiselect.study.comparison import Comparison, compare
from optiselect.study.doubts import Doubt
from optiselect.study.edits import Set
from optiselect.study.follower import Follower
from optiselect.study.variants import Variant
from optiselect.study.worker import Shipment
from optiselect.study.workers import all_of, crosses

if TYPE_CHECKING:
    import pandas

_MOST_REASONS = 3
_MOST_LINES = 6


@dataclass(frozen=True)
class BreakingPoint:
    """How far one figure may be off.

    Attributes:
        now: what the figure is.
        holds_to: the last value at which the plan is still the same; None where even the first step changes it.
        changes_at: the first value at which it is not; None where it holds up to the limit.
        kind: the plan ``breaks`` (a rule no longer holds), another one ``replaces`` it though it would still hold, or it ``holds``.
        because: the rules that break, in words.
        comparison: the best plan at `changes_at` against the plan as it is; None where that was not asked for.
    """

    doubt: Doubt
    now: float
    holds_to: float | None
    changes_at: float | None
    kind: Literal["breaks", "replaces", "holds"]
    because: tuple[str, ...] = ()
    comparison: Comparison | None = None

    @property
    def room(self) -> float | None:
        """How far the figure may move before the plan changes, in the unit of the doubt; None where no change was found."""
        return None if self.changes_at is None else round(abs(self.changes_at - self.now), 6)

    def text(self) -> str:
        """In words."""
        unit = f" {self.doubt.unit}".rstrip()
        head = f"{self.doubt.name}, now {self.now:g}{unit}:"
        if self.kind == "holds":
            return f"{head} holds to {self.doubt.limit:g}{unit}"
        said = "breaks" if self.kind == "breaks" else "another plan comes out"
        lines = [f"{head} {said} at {self.changes_at:g}{unit}", *(f"  {reason}" for reason in self.because[:_MOST_REASONS])]
        if len(self.because) > _MOST_REASONS:
            lines.append(f"  and {len(self.because) - _MOST_REASONS} more reasons")
        if self.comparison is not None:
            then = self.comparison.text().splitlines()
            lines += [f"  then: {then[0].strip()}", *(f"        {line.strip()}" for line in then[1:_MOST_LINES])]
            lines += [f"        and {len(then) - _MOST_LINES} lines more"] if len(then) > _MOST_LINES else []
        return "\n".join(lines)


@dataclass(frozen=True)
class Sensitivity:
    """The breaking points, the tightest of each unit first."""

    points: tuple[BreakingPoint, ...]

    def text(self) -> str:
        """All points in words."""
        return "\n".join(point.text() for point in self.points)

    def frame(self) -> pandas.DataFrame:
        """A row a figure: what it is now, to where the plan holds, where it changes, how much room that leaves and why."""
        import pandas

        rows = [
            (
                *(point.doubt.name, point.doubt.place, point.doubt.unit, point.now, point.holds_to, point.changes_at, point.room, point.kind),
                *("; ".join(point.because), point.comparison.text().splitlines()[0].strip() if point.comparison else ""),
            )
            for point in self.points
        ]
        columns = ["figure", "place", "unit", "now", "holds_to", "changes_at", "room", "kind", "because", "then"]
        return pandas.DataFrame(rows, columns=columns)

    def _repr_html_(self) -> str:
        return str(self.frame().to_html(index=False, escape=True, na_rep="", max_rows=25))


def sensitivity(case: Case, doubts: Iterable[Doubt], *, plan: Plan | None = None, executor: Executor | None = None, solve_again: bool = True) -> Sensitivity:
    """Find for each figure in doubt where it changes the plan.

    Args:
        doubts: the figures (`Doubt.losses`, `Doubt.lengths`, or your own).
        plan: the plan of the case; omitted = it is solved.
        executor: as for `Study.run`, one figure a task.
        solve_again: False: only where the plan as it stands breaks a rule is looked for; quick, for nothing is solved.

    Raises:
        DocumentError: when a doubt names no figure, or more than one.
        OptiselectError: when rules of the user's own would have to cross to another process, or a worker ends before it has answered.
    """
    if case.policy.rules and crosses(executor):
        raise OptiselectError("rules of your own are Python and cross to no other process; look for breaking points here or in threads")
    known = plan if plan is not None else solve_bare(case.network, case.catalog, case.policy)
    shipment = Shipment.of(" ".join([*case.hashes().values(), "sensitivity"]), case, known, crosses=crosses(executor))
    asked = [(doubt, *doubt.range_of(case)) for doubt in doubts]
    if executor is None:
        points = [_point(shipment, *each, solve_again) for each in asked]
    else:
        points = all_of(executor, _point, [(shipment, *each, solve_again) for each in asked])
    return Sensitivity(tuple(sorted(points, key=lambda point: (point.doubt.unit, point.room is None, point.room or 0, point.doubt.place))))


def _point(shipment: Shipment, doubt: Doubt, now: float, values: Sequence[float], solve_again: bool) -> BreakingPoint:
    case, plan = shipment.opened()
    assert plan is not None  # it was shipped along
    search = _Search(case, plan, shipment.follower(), doubt, (now, *values))
    return search.point(solve_again)


class _Search:
    """Looks at the values of one figure; the first of them is what it is now."""

    def __init__(self, case: Case, plan: Plan, follower: Follower, doubt: Doubt, values: tuple[float, ...]) -> None:
        self._case, self._plan, self._follower, self._doubt, self._values = case, plan, follower, doubt, values
        self._plans: dict[int, Plan] = {0: plan}

    def point(self, solve_again: bool) -> BreakingPoint:
        last = len(self._values) - 1
        broken = None if self._stands(last) else self._first(self._stands, last)
        holds = last if broken is None else broken - 1
        if solve_again and not self._same(holds):
            first = self._first(self._same, holds)
            return self._told(first, "replaces", (), self._compared(first))
        if broken is None:
            return self._told(None, "holds", (), None)
        reasons = tuple(dict.fromkeys(self._broken(broken)))
        return self._told(broken, "breaks", reasons, self._compared(broken) if solve_again else None)

    def _told(self, first: int | None, kind: Literal["breaks", "replaces", "holds"], because: tuple[str, ...], comparison: Comparison | None) -> BreakingPoint:
        holds_to = self._values[-1] if first is None else self._values[first - 1]
        return BreakingPoint(self._doubt, self._values[0], holds_to, None if first is None else self._values[first], kind, because, comparison)

    def _first(self, holds: Callable[[int], bool], fails: int) -> int:
        """The first position at which something does not hold; it holds at 0 and does not at `fails`."""
        low, high = 0, fails
        while high - low > 1:
            middle = (low + high) // 2
            if holds(middle):
                low = middle
            else:
                high = middle
        return high

    def _changed(self, position: int) -> Case:
        return Variant(name="off", edits=(Set(self._doubt.place, self._values[position]),)).applied_to(self._case)

    def _broken(self, position: int) -> list[str]:
        case = self._changed(position)
        return [finding.text for finding in check(case.network, case.catalog, self._plan, case.policy) if not finding.unknown and not finding.waived]

    def _stands(self, position: int) -> bool:
        return position == 0 or not self._broken(position)

    def _same(self, position: int) -> bool:
        return self._compared(position).is_same_but_for_ports

    def _compared(self, position: int) -> Comparison:
        if position not in self._plans:
            self._plans[position] = self._follower.plan_of(self._changed(position))
        return compare(self._plan, self._plans[position])
