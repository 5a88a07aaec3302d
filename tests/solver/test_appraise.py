"""The checker itself: a plan that was falsified in any one place is caught, and every value of a plan is reckoned by hand."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Finding, Plan
from optiselect.model.policy import Policy
from optiselect.solver import appraise
from optiselect.solver.audit import check, findings_of_plan
from optiselect.solver.named import fitted_units
from optiselect.solver.solve import solve_bare
from tests.study.harbor import harbor

HARBOR = harbor()
DOCUMENTS = (HARBOR.network, HARBOR.catalog, HARBOR.policy)
PLAN = solve_bare(*DOCUMENTS)
Change = Callable[[dict[str, Any]], object]


def falsified(change: Change) -> Plan:
    """The plan of the harbor with one thing changed; links are by id."""
    told = PLAN.model_dump(mode="json", by_alias=True)
    told["links"] = {link["id"]: link for link in told["links"]}
    change(told)
    return Plan(**told | {"links": list(told["links"].values())})


def values_of(plan: Plan, *documents: Any) -> dict[str, Decimal]:
    return appraise.values_of(plan, *documents, fitted_units(plan.links))


def values_that_differ(plan: Plan, *documents: Any) -> list[str]:
    return list(appraise.values_that_differ(plan, *documents, fitted_units(plan.links)))


def wrong(plan: Plan) -> set[str]:
    return {finding.rule for finding in findings_of_plan(plan, *DOCUMENTS) if not finding.unknown}


def end(link: str, side: int, **parts: str | None) -> Change:
    return lambda told: told["links"][link]["ends"][side].update(parts)


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        (end("camera", 0, module="NO-SX"), "wavelength"),
        (end("light", 0, module="SO-LX"), "reach"),
        (end("light", 1, module="SO-LX"), "wavelength"),
        (end("light", 0, module="NO-FAR"), "overload"),
        (end("mast", 0, cord=None), "connector"),
        (end("mast", 0, cord="CORD-OM3"), "fiber-mode"),
        (end("mast", 0, port="1"), "port-once"),
        (lambda told: told["links"]["quay-2"].update(over=["F2"]), "diversity"),
    ],
)
def test_planted_fault_is_found(change: Change, rule: str) -> None:
    assert wrong(PLAN) == set()
    assert rule in wrong(falsified(change))


def test_strands_that_are_not_there_are_found() -> None:
    runs = [run.stated() | ({"fiber": run.fiber.stated() | {"strands": 1}} if run.id == "F7" and run.fiber else {}) for run in HARBOR.network.runs]
    narrow = Network(**HARBOR.network.stated() | {"runs": runs})
    assert "strands-free" in {finding.rule for finding in findings_of_plan(PLAN, narrow, HARBOR.catalog, HARBOR.policy)}


@pytest.mark.parametrize("name", [row.name for row in PLAN.objective])
def test_value_that_is_not_so_is_told(name: str) -> None:
    def change(told: dict[str, Any]) -> None:
        row = next(row for row in told["objective"] if row["name"] == name)
        row["value"] += 1

    value = next(row.value for row in PLAN.objective if row.name == name)
    (text,) = values_that_differ(falsified(change), *DOCUMENTS, [])
    assert text.startswith(f"{name}: the plan says {value + 1:g}, the documents give {value:g}")


def test_bill_that_does_not_add_up_is_told() -> None:
    plan = falsified(lambda told: told["parts"][0].update(total=told["parts"][0]["total"] + 0.001))
    assert values_that_differ(plan, *DOCUMENTS, []) == ["the bill adds up to 572.001, the documents give 572.0000"]
    less = falsified(lambda told: told["parts"][0].update(total=told["parts"][0]["total"] - 1))
    assert values_that_differ(less, *DOCUMENTS, []) == ["the bill adds up to 571.0, the documents give 572.0000"]
    assert values_that_differ(PLAN, *DOCUMENTS, []) == []


def test_values_are_those_reckoned_by_hand() -> None:
    """Two long modules at 120, eight short ones at 34, ten cords at 6; five links of weight 1 but the light of 3; two strands a run, six runs."""
    assert values_of(PLAN, *DOCUMENTS, []) == {
        "critical_links": 1,
        "links": 7,
        "unknowns": 0,
        "part_numbers": 2,
        "cost": Decimal(2 * 120 + 8 * 34 + 10 * 6),
        "strands": 12,
        "modules": 10,
        "changes": 0,
    }


def test_end_without_a_module_is_counted_with_no_modules() -> None:
    assert values_of(falsified(end("camera", 0, module=None, fitting="copper")), *DOCUMENTS, [])["modules"] == 9


def test_what_is_kept_is_not_bought_and_what_fails_is_spared() -> None:
    """Of the two long modules one is in place, and one port held another; 2 x 944,444 failures per 1e9 h x 720 h = 1.36: P(<= 2) = 0.843, P(<= 3) = 0.951."""
    network = Network(**HARBOR.network.stated() | {"installed": {"core/1": "SO-LONG", "core/2": "NO-LX", "quay/1": "NO-LX", "quay/6": "SO-LX"}})
    modules = [module.stated() | ({"fit": 944_444} if module.part == "SO-LONG" else {}) for module in HARBOR.catalog.modules]
    catalog = Catalog(**HARBOR.catalog.stated() | {"modules": modules})
    told = values_of(PLAN, network, catalog, Policy(keep_installed="prefer", spares={"service_level": 0.95, "restock_days": 30}), [])
    assert told["cost"] == Decimal((2 - 1 + 3) * 120 + 8 * 34 + 10 * 6)
    assert told["changes"] == 2
    assert values_of(PLAN, network, catalog, Policy(), [])["changes"] == 0


def test_links_that_rest_on_an_unknown_are_counted_once_and_not_where_a_person_answers() -> None:
    told = ({"link": "a"}, {"link": "a"}, {"link": "d"}, {"link": "b", "waived": True}, {"link": "c", "unknown": False}, {})
    findings = [Finding(**{"rule": "reach", "unknown": True, **more}) for more in told]
    assert values_of(PLAN, *DOCUMENTS, findings)["unknowns"] == 2


def test_a_person_answers_for_the_link_that_is_named_and_no_other() -> None:
    policy = Policy(waivers=[{"rule": "reach", "link": "light"}, {"rule": "coding", "link": "light"}, {"rule": "earthing", "link": "mast"}])
    assert policy.waived_on("light") == {"reach", "coding"}
    assert policy.waived_on("camera") == frozenset()


def pulled(keep: str, port: str = "core/1", part: str = "NO-FAR") -> set[str]:
    """The rules that the plan breaks where a port holds a module already."""
    network = Network(**HARBOR.network.stated() | {"installed": {port: part}})
    return {finding.rule for finding in findings_of_plan(PLAN, network, HARBOR.catalog, Policy(keep_installed=keep)) if not finding.unknown}


@pytest.mark.parametrize(("keep", "broken"), [("no", set()), ("prefer", set()), ("must", {"installed"})])
def test_module_that_is_pulled_is_a_finding_where_it_must_stay(keep: str, broken: set[str]) -> None:
    assert pulled(keep) == broken
    assert pulled(keep, part="SO-LONG") == set()


@pytest.mark.parametrize(("installed", "keep", "broken"), [("SO-LONG", "prefer", set()), ("SO-LONG", "no", {"stock"}), ("NO-FAR", "prefer", {"stock"})])
def test_module_that_stays_is_not_taken_from_stock(installed: str, keep: str, broken: set[str]) -> None:
    """The plan fits two long modules, and one is in stock."""
    network = Network(**HARBOR.network.stated() | {"installed": {"core/1": installed}})
    modules = [module.stated() | ({"stock": 1} if module.part == "SO-LONG" else {}) for module in HARBOR.catalog.modules]
    catalog = Catalog(**HARBOR.catalog.stated() | {"modules": modules})
    assert {finding.rule for finding in findings_of_plan(PLAN, network, catalog, Policy(keep_installed=keep)) if not finding.unknown} == broken


def test_inventory_is_not_asked_for_stock() -> None:
    """What is plugged in was bought already."""
    modules = [module.stated() | {"stock": 0} for module in HARBOR.catalog.modules]
    catalog = Catalog(**HARBOR.catalog.stated() | {"modules": modules})
    plugged = {f"{end.device}/{end.port}": end.module for link in PLAN.links for end in link.ends if end.module}
    assert "stock" in {finding.rule for finding in findings_of_plan(PLAN, HARBOR.network, catalog, HARBOR.policy)}
    assert "stock" not in {finding.rule for finding in check(HARBOR.network, catalog, plugged)}


def test_the_last_digit_of_a_cost_counts() -> None:
    findings = findings_of_plan(PLAN, *DOCUMENTS)
    told = [value.model_copy(update={"value": value.value + 0.0001}) if value.name == "cost" else value for value in PLAN.objective]
    assert values_that_differ(PLAN, *DOCUMENTS, findings) == []
    assert [line.partition(":")[0] for line in values_that_differ(PLAN.model_copy(update={"objective": tuple(told)}), *DOCUMENTS, findings)] == ["cost"]
