"""Solve again with a changed document, and say what else changes."""

from __future__ import annotations

from collections.abc import Callable

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.model.refusal import Effect
from optiselect.solver.solve import solve_bare


def solved_again(network: Network, catalog: Catalog, policy: Policy, cancel: Callable[[], bool] | None = None) -> Plan:
    """The plan of changed documents, without reasons for what it does not serve, and confirmed by nobody."""
    return solve_bare(network, catalog, policy.model_copy(update={"confirm": "none"}), cancel=cancel)


def effect_of(before: Plan, after: Plan, link_id: str, specified: frozenset[str]) -> Effect:
    """What changes from one plan to another, beside the link itself; `specified`: parts that are only specified."""
    was, now = {link.id for link in before.links}, {link.id for link in after.links}
    had, has = _counted(before), _counted(after)
    new = tuple(sorted(has - had))
    priced = {line.part: line.unit_price for line in after.parts}
    return Effect(
        loses=tuple(sorted(was - now - {link_id})),
        gains=tuple(sorted(now - was - {link_id})),
        part_numbers=len(has) - len(had),
        new_parts=new,
        cost=round(sum(line.total for line in after.parts) - sum(line.total for line in before.parts), 4),
        unpriced=tuple(sorted(part for part, price in priced.items() if part in specified or (price is None and part in new))),
        currency=after.currency,
    )


def _counted(plan: Plan) -> set[str]:
    """The part numbers that count as such: all but cords."""
    return {line.part for line in plan.parts if line.kind != "cord"}
