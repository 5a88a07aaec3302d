"""The trade-off of part numbers against cost: for each number of part numbers that is worth it, the cheapest plan, proven.

The least number comes from the usual order of objectives, the least cost from the other order. In between the number is
capped, one more at a time, and the cost made least under each cap; a cap that lowers the cost is a point of the front.
"""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass
from itertools import chain, pairwise
from typing import TYPE_CHECKING

from optiselect.errors import OptiselectError
from optiselect.model.plan import Plan
from optiselect.model.policy import Objective, Policy
from optiselect.solver.solve import solve_within
from optiselect.study.case import Case
from optiselect.study.comparison import compare
from optiselect.study.worker import Shipment
from optiselect.study.workers import all_of, crosses, workers_of

if TYPE_CHECKING:
    import pandas


@dataclass(frozen=True)
class FrontPoint:
    """A plan that no other betters in both: fewer part numbers cost more, less cost takes more part numbers.

    Attributes:
        cost: in the currency of the front.
        plan: without the reasons of links that are not served.
        proven: whether it is proven that nothing cheaper needs so few, and that nothing so cheap needs fewer. Of the points between the two
            ends `Policy.confirm` asks nobody else.
    """

    part_numbers: int
    cost: float
    plan: Plan
    proven: bool


@dataclass(frozen=True)
class Front:
    """The points from the fewest part numbers towards the least cost; every plan serves the same weight of links."""

    points: tuple[FrontPoint, ...]
    currency: str = ""

    def frame(self) -> pandas.DataFrame:
        """A row a point: part numbers, cost, what one step saves, whether it is proven."""
        import pandas

        saved = [0.0, *(round(before.cost - after.cost, 4) for before, after in pairwise(self.points))]
        rows = [(point.part_numbers, point.cost, save, point.proven, self.currency) for point, save in zip(self.points, saved, strict=True)]
        return pandas.DataFrame(rows, columns=["part_numbers", "cost", "saved", "proven", "currency"])

    def text(self) -> str:
        """The points in words, each with what the step to it changes."""
        unit = f" {self.currency}".rstrip()
        lines = []
        for before, point in zip([None, *self.points], self.points, strict=False):
            proven = "" if point.proven else " (not proven)"
            lines.append(f"{point.part_numbers} {'part number' if point.part_numbers == 1 else 'part numbers'}: {point.cost:,.2f}{unit}{proven}")
            if before is not None:
                counted = [change for change in compare(before.plan, point.plan).parts if change.kind != "cord"]
                new = [change.part for change in counted if not change.used_before]
                gone = [change.part for change in counted if not change.used_after]
                lines[-1] += f", {before.cost - point.cost:,.2f}{unit} less: with {', '.join(new)}" + (f", without {', '.join(gone)}" if gone else "")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return str(self.frame().to_html(index=False, escape=True))


def trade_off(case: Case, executor: Executor | None = None, *, up_to: int | None = None) -> Front:
    """Find every plan that is not beaten in both part numbers and cost.

    Args:
        case: the order of `part_numbers` and `cost` in its policy does not matter; what comes before both of them is kept best.
        executor: as for `Study.run`; the numbers of part numbers are shared out among its workers.
        up_to: the most part numbers that are of interest; omitted = as many as the least cost takes.

    Raises:
        OptiselectError: when rules of the user's own would have to cross to another process, or a worker ends before it has answered.
    """
    if case.policy.rules and crosses(executor):
        raise OptiselectError("rules of your own are Python and cross to no other process; find the front here or in threads")
    shipment = Shipment.of(" ".join(case.hashes().values()), case, None, crosses=crosses(executor))
    ends: list[tuple[bool, list[int | None]]] = [(True, [None])] if up_to is not None else [(True, [None]), (False, [None])]
    (fewest,), *cheapest = _all(executor, shipment, ends)
    most = _part_numbers(cheapest[0][0]) if up_to is None else up_to + 1
    caps = range(_part_numbers(fewest) + 1, most)
    share = -(-len(caps) // workers_of(executor)) if executor is not None else len(caps)
    between = _all(executor, shipment, [(True, list(caps[start : start + share])) for start in range(0, len(caps), max(share, 1))])
    points: list[FrontPoint] = []
    proven = True
    for plan in chain([fewest], *between, *cheapest):
        proven = proven and plan.status == "optimal"
        if not points or _cost(plan) < points[-1].cost:
            points.append(FrontPoint(_part_numbers(plan), _cost(plan), plan, proven))
    return Front(tuple(points), case.catalog.currency)


def _all(executor: Executor | None, shipment: Shipment, asked: list[tuple[bool, list[int | None]]]) -> list[list[Plan]]:
    if executor is None:
        return [_solved(shipment, *each) for each in asked]
    return all_of(executor, _solved, [(shipment, *each) for each in asked])


def _solved(shipment: Shipment, parts_first: bool, caps: list[int | None]) -> list[Plan]:
    """The best plan with part numbers before cost, or the other way round, under each cap."""
    case, _ = shipment.opened()
    return list(solve_within(case.network, case.catalog, _ordered(case.policy, parts_first), caps))


def _ordered(policy: Policy, parts_first: bool) -> Policy:
    both: tuple[Objective, ...] = ("part_numbers", "cost") if parts_first else ("cost", "part_numbers")
    place = min((policy.objective.index(name) for name in both if name in policy.objective), default=len(policy.objective))
    rest = [name for name in policy.objective if name not in both]
    stated = policy.stated() | {"objective": [*rest[:place], *both, *rest[place:]]}
    return Policy(**stated, **({"rules": policy.rules} if policy.rules else {}))


def _part_numbers(plan: Plan) -> int:
    return round(_value(plan, "part_numbers"))


def _cost(plan: Plan) -> float:
    return round(_value(plan, "cost"), 4)


def _value(plan: Plan, name: str) -> float:
    return next((value.value for value in plan.objective if value.name == name), 0.0)
