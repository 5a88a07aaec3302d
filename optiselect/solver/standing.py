"""A plan at hand stands where nothing better was found: between plans of equal value, nobody should have to change a module."""

from __future__ import annotations

from optiselect.errors import PlanCheckError, UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.assemble import notes_of_bill
from optiselect.solver.checked import check_links, check_plan
from optiselect.solver.named import fitted_units, names_of_plan_exist


def standing(before: Plan, found: Plan, network: Network, catalog: Catalog, policy: Policy) -> Plan:
    """The plan before, with the figures of these documents, where it passes every rule and is as good as the one found; else that one.

    Args:
        before: a plan of other documents. found: of these.
    """
    if [(value.name, value.value) for value in before.objective] != [(value.name, value.value) for value in found.objective]:
        return found
    if [(link.id, link.rate) for link in before.links] != [(link.id, link.rate) for link in found.links]:
        return found
    if all((was.over, was.ends) == (now.over, now.ends) for was, now in zip(before.links, found.links, strict=True)):
        return found  # it is the plan before
    items = {item.part: item for items in (catalog.modules, catalog.converters, catalog.cords, catalog.attenuators) for item in items}
    try:
        names_of_plan_exist(before.model_copy(update={"unserved": found.unserved}), network, catalog)
        checked = check_links(before.links, network, catalog, policy)
        lines = [(line, items[line.part].price) for line in before.parts]
        parts = tuple(line.model_copy(update={"unit_price": price, "total": round((price or 0.0) * line.order, 4)}) for line, price in lines)
        others = [note for note in found.notes if note not in notes_of_bill(found.parts, catalog, policy)]
        plan = found.model_copy(
            update={"links": tuple(link.told for link in checked.values()), "parts": parts, "notes": (*notes_of_bill(parts, catalog, policy), *others)}
        )
        check_plan(plan, checked.values(), network, catalog, policy, fitted_units(plan.links))
    except (UnknownNameError, PlanCheckError):
        return found
    return plan
