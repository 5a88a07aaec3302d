"""What links share: ports, strands, power, routes, stock; and the user's own rules."""

from dataclasses import replace
from typing import Any

import pytest

from optiselect.model.policy import Policy
from optiselect.rules import NETWORK_RULES, RULE_BY_ID
from optiselect.rules.examples import example
from optiselect.rules.fitted import FittedLink
from optiselect.rules.served import units_of
from tests.rules.fitting import all_breaches, built_to, copper, fiber, holds, link, sentences

Changes = dict[str, Any]


def said(changes: Changes) -> list[str]:
    """Every rule's sentences about the changed example network."""
    return [RULE_BY_ID[breach.rule].sentence(breach) for breach in all_breaches(example(changes))]


def of_whole(rule_id: str, changes: Changes) -> list[str]:
    """One network rule's sentences."""
    rule = RULE_BY_ID[rule_id]
    return [rule.sentence(breach) for breach in rule.check(example(changes).served)]


SHARED = {
    "devices.core.ports.1.kind": "shared",
    "devices.core.ports.1.copper_rates": ["1G"],
}


def test_the_socket_of_a_shared_port_goes_dead_when_its_cage_is_used() -> None:
    assert said(SHARED) == []
    assert said({**SHARED, "fitted.L2.0.port": "1"}) == ["core/1 carries 1 link, and 2 are on it: L1, L2"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"runs.F1.fiber.strands": 2}, []),
        ({"runs.F1.fiber.strands": 1}, ["F1: 2 strands wanted (L1), and 1 free"]),
        ({"runs.F3.fiber.strands": 1}, []),  # a single strand serves D and U
        ({"runs.F1.fiber.strands_in_use": 11}, ["F1: 2 strands wanted (L1), and 1 free"]),
        ({"policy.reserve_strands": 2, "runs.F4.fiber.strands": 4, "runs.F6.fiber.strands": 4}, []),
        ({"policy.reserve_strands": 3, "runs.F6.fiber.strands": 5}, ["F4: 2 strands wanted (L4), and 1 free"]),
        ({"links.L3.over": ["F1"], "runs.F1.fiber.strands": 2, "runs.F1.fiber.connectors": None}, ["F1: 3 strands wanted (L1, L3), and 2 free"]),
    ],
)
def test_strands_are_counted_once(changes: Changes, told: list[str]) -> None:
    assert of_whole("strands-free", changes) == told


def test_a_copper_run_carries_one_link() -> None:
    doubled = {"links.L5.over": ["C2"]}
    assert of_whole("strands-free", doubled) == ["C2: 2 links planned on it (L2, L5), and a copper run carries 1"]


def test_a_device_feeds_all_its_modules_together() -> None:
    assert said({"devices.gate.module_power_w": 2.0}) == []
    assert said({"devices.gate.module_power_w": 1.9}) == ["gate: 1.9 W are there for all modules, and they draw 2 W"]


def test_a_module_in_a_converter_is_not_fed_by_the_device() -> None:
    assert of_whole("device-power", {"devices.core.module_power_w": 3.8, "modules.DEMO-100-LX10.power_w": 1.5}) == []


def test_an_unknown_power_leaves_the_sum_unknown() -> None:
    changes = {"devices.gate.module_power_w": 5, "modules.DEMO-LX10.power_w": None}
    assert of_whole("device-power", changes) == ["gate: the power of DEMO-LX10 is not stated, so this cannot be checked"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"links.L3.diverse_from": ["L1"]}, []),
        ({"links.L3.diverse_from": ["L1"], "runs.F3.routes": ["duct-7"]}, ["L3 is to have nothing in common with L1, and both go over route duct-7"]),
        (
            {"links.L3.diverse_from": ["L1"], "links.L3.over": ["F1"]},
            ["L3 is to have nothing in common with L1, and both go over route duct-7, run F1"],
        ),
        (
            {"links.L1.diverse_from": ["L3"], "links.L3.diverse_from": ["L1"], "runs.F3.routes": ["duct-7"]},
            ["L1 is to have nothing in common with L3, and both go over route duct-7"],
        ),
    ],
)
def test_diverse_links_share_no_run_and_no_route(changes: Changes, told: list[str]) -> None:
    assert of_whole("diversity", changes) == told


def test_diverse_from_a_link_that_is_not_served_asks_nothing() -> None:
    served = example({"links.L3.diverse_from": ["L1"], "runs.F3.routes": ["duct-7"]}).served
    without = replace(served, links=served.links[1:])
    assert list(RULE_BY_ID["diversity"].check(without)) == []


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"modules.DEMO-SX.stock": 2}, []),
        ({"modules.DEMO-SX.stock": 1}, ["DEMO-SX: 2 units to be bought (2 to use, 0 spare), and 1 in stock"]),
        ({"modules.DEMO-SX.stock": 1, "installed.core/4": "DEMO-SX"}, []),  # what stays is not bought again
        (
            {"modules.DEMO-SX.stock": 1, "installed.core/4": "DEMO-SX", "spares.DEMO-SX": 1},
            ["DEMO-SX: 2 units to be bought (1 to use, 1 spare), and 1 in stock"],
        ),
        ({"cords.DEMO-CORD-OM2.stock": 1}, ["DEMO-CORD-OM2: 2 units to be bought (2 to use, 0 spare), and 1 in stock"]),
        ({"converters.DEMO-MC.stock": 0}, ["DEMO-MC: 1 unit to be bought (1 to use, 0 spare), and 0 in stock"]),
        ({"modules.DEMO-LX.stock": 0}, []),
    ],
)
def test_what_is_bought_is_in_stock(changes: Changes, told: list[str]) -> None:
    assert of_whole("stock", changes) == told


EVERYTHING = {
    "fitted.L3.0.port": "1",
    "fitted.L3.1.port": "1",
    "fitted.L5.1.port": "4",
    "links.L5.over": ["C2"],
    **{f"devices.{device}.module_power_w": 0.5 for device in ("core", "gate", "desk")},
    **{f"runs.{run}.fiber.strands_in_use": used for run, used in (("F1", 11), ("F3", 12), ("F4", 3), ("F6", 2))},
    "runs.F1.routes": ["d", "c", "b", "a"],
    "runs.F3.routes": ["a", "b", "c", "d"],
    "links.L1.diverse_from": ["L4", "L3"],
    "links.L3.diverse_from": ["L4", "L1"],
    "runs.F4.routes": ["a"],
    **{f"modules.DEMO-{part}.stock": 0 for part in ("LX10", "SX", "BX-D")},
}


def test_what_is_told_of_the_whole_is_in_order_whatever_comes_first() -> None:
    served = example(EVERYTHING).served
    turned = replace(served, links=served.links[::-1], units=dict(sorted(served.units.items(), reverse=True)))
    found, again = ([breach for rule in NETWORK_RULES for breach in rule.check(whole)] for whole in (served, turned))
    assert found == again
    places: dict[str, list[str]] = {}
    for breach in found:
        places.setdefault(breach.rule, []).append(breach.path)
    assert places == {
        "port-once": ["core/1", "desk/4", "gate/1"],
        "strands-free": ["C2", "F1", "F3", "F4", "F6"],
        "device-power": ["core", "desk", "gate"],
        "diversity": ["L1", "L1", "L3"],
        "stock": ["DEMO-LX10", "DEMO-BX-D", "DEMO-SX"],  # as in the catalog
    }
    assert [(breach.available, breach.facts["other"], breach.facts["shared"]) for breach in found if breach.rule == "diversity"] == [
        ("route a, route b, route c, route d", "L3", ("route a", "route b", "route c", "route d")),
        ("route a", "L4", ("route a",)),
        ("route a", "L4", ("route a",)),
    ]


def test_every_module_whose_power_is_not_known_is_named_once() -> None:
    parts = ("LX10", "BX-D", "SX", "PAIR-NEAR")
    served = example({"devices.core.module_power_w": 5, **{f"modules.DEMO-{part}.power_w": None for part in parts}}).served
    (breach,) = RULE_BY_ID["device-power"].check(served)
    assert (breach.rule, breach.unit, breach.required) == ("device-power", "W", 5.0)
    assert breach.available == "the power of DEMO-BX-D, DEMO-LX10, DEMO-PAIR-NEAR, DEMO-SX"


def test_devices_that_are_overdrawn_are_told_in_order() -> None:
    served = example({f"devices.{name}.module_power_w": 0.1 for name in ("core", "gate", "desk")}).served
    told = [breach.path for breach in RULE_BY_ID["device-power"].check(served)]
    assert told == ["core", "desk", "gate"]


# Earthing


@pytest.mark.parametrize(
    ("allowed", "told"), [(True, []), (False, ["core/1 to gate/1: copper is to stay in one building, and that of R1 joins building berth and building main"])]
)
def test_copper_stays_in_one_building(allowed: bool, told: list[str]) -> None:
    assert sentences("earthing", link(None, None, copper(40, "Cat6"), policy=Policy(copper_between_buildings=allowed))) == told


def test_glass_does_not_conduct() -> None:
    lx10 = built_to("1000BASE-LX10")
    assert holds("earthing", link(lx10, lx10, fiber(40)))


# The user's own rules


def no_long_runs(fitted: FittedLink) -> bool:
    return fitted.path.length_m < 1000


def careless(fitted: FittedLink) -> bool:
    return fitted.a.cord.part == "CORD"  # type: ignore[union-attr]  # there is no cord


def test_a_predicate_is_asked_with_the_fitted_link() -> None:
    lx10 = built_to("1000BASE-LX10")
    asked = Policy(rules=(no_long_runs,))
    assert holds("own-rule", link(lx10, lx10, fiber(999), policy=asked))
    assert sentences("own-rule", link(lx10, lx10, fiber(1000), policy=asked)) == ["core/1 to gate/1: the policy's own rule no_long_runs says no"]


def test_a_predicate_that_raises_is_named_and_stops_no_other() -> None:
    lx10 = built_to("1000BASE-LX10")
    both = link(lx10, lx10, fiber(1000), policy=Policy(rules=(careless, lambda fitted: fitted.rate == "10G")))
    assert sentences("own-rule", both) == [
        "core/1 to gate/1: the policy's own rule careless owes an answer and raised AttributeError: 'NoneType' object has no attribute 'part'",
        "core/1 to gate/1: the policy's own rule rules[1] says no",
    ]


def test_units_are_told_by_part_number_whatever_is_fitted_first() -> None:
    links = example().links
    assert list(units_of(links)) == list(units_of(links[::-1])) == sorted(units_of(links))
