"""The audit: what is plugged in, or planned, held to every rule, and what an inventory cannot tell said as such."""

from dataclasses import replace
from typing import Any

import pytest

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.rules.served import kept_ports, taken_by
from optiselect.solver.audit import check
from optiselect.solver.solve import solve
from tests.rules.fitting import built_to, fiber, link

KNOWN = {"temperature_c": [-40, 85], "power_w": 0.8, "laser_class": "1", "connector": "LC"}
CATALOG = Catalog(
    modules=[
        {"part": "SX", "standard": "1000BASE-SX", "form": "SFP", **KNOWN},
        {"part": "LX", "standard": "1000BASE-LX", "form": "SFP", **KNOWN},
        {"part": "LX10", "standard": "1000BASE-LX10", "form": "SFP", **KNOWN},
        {"part": "FX", "standard": "100BASE-FX", "form": "SFP", **KNOWN},
        {"part": "FAR", "standard": "1000BASE-LX10", "form": "SFP", "tx_dbm": [0, 5], "rx_dbm": [-24, -3], **KNOWN},
        {"part": "T", "form": "SFP", "rates": ["1G"], "medium": "copper", "reach_m": {"Cat6": 100}, **(KNOWN | {"connector": "RJ45"})},
        {"part": "DUAL", "form": "SFP", "rates": ["100M", "1G"], "standard": "1000BASE-LX10", **KNOWN},
    ],
    converters=[{"part": "MC", "copper_rates": ["1G"], "form": "SFP", "rates": ["1G"]}],
    cords=[{"part": "CORD", "grade": "OS2", "connectors": ["LC", "SC"]}],
    attenuators=[{"part": "ATT", "mode": "single-mode", "connector": "LC", "loss_db": 5}],
)
OS2 = {"grade": "OS2", "length_m": 400, "strands": 2, "connectors": ["SC", "SC"]}
OM1 = {"grade": "OM1", "length_m": 200, "strands": 2, "connectors": ["SC", "SC"]}
OM3 = {"grade": "OM3", "length_m": 200, "strands": 2}
CAGES = {"ids": "1-2", "kind": "cage", "form": "SFP", "rates": ["100M", "1G"]}
SHARED = {"id": "s", "kind": "shared", "form": "SFP", "rates": ["1G"], "copper_rates": ["100M", "1G"]}
SOLDERED = {"id": "up", "kind": "fixed", "optic": {"standard": "1000BASE-LX10", "connector": "SC"}}
SOCKET = {"id": "eth", "kind": "copper", "rates": ["1G"]}


def network(*links: dict[str, Any], a: tuple[Any, ...] = (CAGES,), b: tuple[Any, ...] = (CAGES,), **runs: Any) -> Network:
    """Two devices of one building, fiber or copper between them, and links."""
    cables = [{"id": run, "ends": ["a", "b"], **({"fiber": cable} if "grade" in cable else {"copper": cable})} for run, cable in runs.items()]
    return Network(
        sites=[{"id": "hall", "ambient_c": [5, 40]}],
        devices=[{"id": "a", "site": "hall", "ports": a}, {"id": "b", "site": "hall", "ports": b}],
        runs=cables,
        links=[{"id": f"L{index}", "ends": ["a", "b"], "rate": "1G", **link} for index, link in enumerate(links, 1)],
    )


def texts(*of: Any) -> list[str]:
    return [("unknown " if finding.unknown else "") + str(finding) for finding in check(*of)]


PINNED = {"ends": ["a/1", "b/1"]}
BOTH_LX10 = {"a/1": "LX10", "b/1": "LX10"}

CASES: dict[str, tuple[Network, dict[str, str], list[str]]] = {
    "modules that go together": (network(PINNED, F1=OS2), BOTH_LX10, []),
    "a missing cord is no finding": (network(PINNED, F1={**OS2, "connectors": ["ST", "FC"]}), BOTH_LX10, []),
    "nothing plugged in": (network({}, F1=OS2), {}, []),
    "the wrong fiber": (
        network(PINNED, F1=OM3),
        {"a/1": "SX", "b/1": "LX10"},
        [
            "wavelength: a/1 to b/1: LX10 receives 1260-1360 nm, and SX sends 770-860 nm",
            "wavelength: b/1 to a/1: SX receives 770-860 nm, and LX10 sends 1260-1360 nm",
            "overload: a/1 to b/1: 3 dB must be lost so that SX does not overload LX10, and F1 may lose as little as 0.42 dB: "
            "an attenuator of 2.58 dB or more is needed",
        ],
    ),
    "a mode-conditioning cord is due": (
        network(PINNED, F1=OM1),
        {"a/1": "LX", "b/1": "LX"},
        [
            "unknown mode-conditioning: a/1: whether a mode-conditioning cord LC to SC, OM1, 2 strands is there is not stated, so this cannot be checked",
            "unknown mode-conditioning: b/1: whether a mode-conditioning cord LC to SC, OM1, 2 strands is there is not stated, so this cannot be checked",
        ],
    ),
    "an attenuator is due": (
        network(PINNED, F1=OS2),
        {"a/1": "FAR", "b/1": "LX10"},
        [
            "overload: a/1 to b/1: 8 dB must be lost so that FAR does not overload LX10, and F1 may lose as little as 0.064 dB: "
            "an attenuator of 7.936 dB or more is needed"
        ],
    ),
    "the only port that it could be in": (network({}, F1=OS2), {"a/2": "LX10", "b/1": "LX10"}, []),
    "ports that are alike": (network({}, {}, F1=OS2, F2=OS2), {**BOTH_LX10, "a/2": "LX10", "b/2": "LX10"}, []),
    "the port whose module suits the fiber": (
        network({"over": ["F1"]}, {"over": ["F2"]}, F1=OS2, F2=OM3),
        {"a/1": "SX", "a/2": "LX10", "b/1": "LX10", "b/2": "SX"},
        [],
    ),
    "the port whose module runs the rate": (
        network({"over": ["F1"]}, {"over": ["F2"], "rate": "100M"}, F1=OM3, F2=OM3),
        {"a/1": "FX", "a/2": "SX", "b/1": "SX", "b/2": "FX"},
        [],
    ),
    "two ports come into question": (
        network({}, F1=OS2),
        {"a/1": "LX10", "a/2": "FAR", "b/1": "LX10"},
        ["unknown port-once: L1: which of a/1, a/2 it is in is not stated, so this cannot be checked"],
    ),
    "one port for two links": (
        network({}, {}, F1=OS2, F2=OS2),
        {"a/1": "LX10", "b/1": "LX10", "b/2": "LX10"},
        [
            "unknown port-once: L1: whether it is in a/1 is not stated, so this cannot be checked",
            "unknown port-once: L2: whether it is in a/1 is not stated, so this cannot be checked",
        ],
    ),
    "one end is empty": (
        network(PINNED, F1=OS2),
        {"a/1": "LX10"},
        ["unknown form: b/1: what is plugged in there for L1 is not stated, so this cannot be checked"],
    ),
    "a copper socket before fiber": (
        network({"ends": ["a/1", "b/eth"]}, b=(SOCKET,), F1=OS2),
        {"a/1": "LX10"},
        ["unknown medium: b/eth: the media converter between its copper socket and F1 is not stated, so this cannot be checked"],
    ),
    "a module and no run": (
        network(PINNED),
        BOTH_LX10,
        ["unknown medium: L1: a run that joins a and b is not stated, so this cannot be checked"],
    ),
    "a fixed optic": (network({}, b=(SOLDERED,), F1=OS2), {"a/1": "LX10"}, []),
    "the cage of a shared port": (network({}, b=(SHARED,), F1=OS2), {"a/1": "LX10", "b/s": "LX10"}, []),
    "the copper socket of a shared port": (network({}, a=(SOCKET,), b=(SHARED,), C1={"category": "Cat6", "length_m": 40}), {}, []),
    "copper that is too long": (
        network({}, a=(SOCKET,), b=(SHARED,), C1={"category": "Cat6", "length_m": 140}),
        {},
        [
            "copper-reach: a/eth: C1 is 140 m long, and the copper socket reaches 100 m on Cat6 at 1G",
            "copper-reach: b/s: C1 is 140 m long, and the copper socket reaches 100 m on Cat6 at 1G",
        ],
    ),
    "the empty cage of a shared port": (
        network({"ends": ["a/1", "b/s"]}, b=(SHARED,), F1=OS2),
        {"a/1": "LX10"},
        ["unknown form: b/s: what is plugged in there for L1 is not stated, so this cannot be checked"],
    ),
    "the path on which least is wrong": (network(PINNED, F1={**OS2, "length_m": 20}, F2=OM3), {"a/1": "SX", "b/1": "SX"}, []),
    "links that can but go one way each": (
        network({**PINNED, "diverse_from": ["L2"]}, {"ends": ["a/2", "b/2"]}, F1=OS2, F2=OM3),
        {"a/1": "SX", "b/1": "SX", "a/2": "LX10", "b/2": "LX10"},
        [
            "unknown diversity: L1: over which runs L2 goes is not stated, so this cannot be checked",
        ],
    ),
    "two ports come into question before a fixed optic": (
        network({}, b=(SOLDERED,), F1=OS2),
        {"a/1": "LX10", "a/2": "FAR"},
        ["unknown port-once: L1: which of a/1, a/2 it is in is not stated, so this cannot be checked"],
    ),
    "two ports come into question at both ends": (
        network({"rate": None}, F1=OS2),
        {"a/1": "LX10", "a/2": "FAR", "b/1": "LX10", "b/2": "FAR"},
        [
            "unknown port-once: L1: which of a/1, a/2 it is in is not stated, so this cannot be checked",
            "unknown port-once: L1: which of b/1, b/2 it is in is not stated, so this cannot be checked",
        ],
    ),
    "a fixed optic that is not pinned before an empty port that is": (network({"ends": ["a", "b/1"]}, a=(SOLDERED,), F1=OS2), {}, []),
    "one end is known, and the rate is open": (
        network({**PINNED, "rate": None}, F1=OS2),
        {"a/1": "FX"},
        ["unknown form: b/1: what is plugged in there for L1 is not stated, so this cannot be checked"],
    ),
    "a copper module where there is shorter fiber too": (
        network(PINNED, F1={**OS2, "length_m": 30}, C1={"category": "Cat6", "length_m": 40}),
        {"a/1": "T"},
        ["unknown form: b/1: what is plugged in there for L1 is not stated, so this cannot be checked"],
    ),
    "a fixed optic whose far end is empty": (network({"ends": ["a/1", "b/up"]}, b=(SOLDERED,), F1=OS2), {}, []),
    "no module and no run": (network(PINNED), {}, []),
    "one module and no run": (network(PINNED), {"a/1": "LX10"}, ["unknown medium: L1: a run that joins a and b is not stated, so this cannot be checked"]),
    "three ports come into question": (
        network({}, a=({**CAGES, "ids": "1-3"},), F1=OS2),
        {"a/1": "LX10", "a/2": "FAR", "a/3": "FX", "b/1": "LX10"},
        ["unknown port-once: L1: which of a/1, a/2 it is in is not stated, so this cannot be checked"],
    ),
    "links that may go either way": (
        network({**PINNED, "diverse_from": ["L2"]}, {"ends": ["a/2", "b/2"]}, F1=OS2, F2={**OS2, "length_m": 500}),
        {**BOTH_LX10, "a/2": "LX10", "b/2": "LX10"},
        [
            "unknown diversity: L1: over which runs L1 goes is not stated, so this cannot be checked",
            "unknown diversity: L1: over which runs L2 goes is not stated, so this cannot be checked",
        ],
    ),
}


@pytest.mark.parametrize(("plant", "inventory", "found"), CASES.values(), ids=CASES)
def test_what_is_plugged_in(plant: Network, inventory: dict[str, str], found: list[str]) -> None:
    assert texts(plant, CATALOG, inventory) == found


def test_what_is_open_is_told_with_what_the_rule_wants() -> None:
    """One port a link; nothing in common."""
    two_ports = check(network({}, F1=OS2), CATALOG, {"a/1": "LX10", "a/2": "FAR", "b/1": "LX10"})
    either_way = check(*CASES["links that may go either way"][:1], CATALOG, CASES["links that may go either way"][1])
    assert [(finding.rule, finding.required) for finding in two_ports] == [("port-once", 1)]
    assert {(finding.rule, finding.required) for finding in either_way} == {("diversity", "nothing in common")}


def test_a_copper_socket_before_fiber_over_a_panel_is_told_with_every_run() -> None:
    plant = network({"ends": ["a/1", "b/eth"]}, b=(SOCKET,))
    halves = [{"id": run, "ends": ends, "fiber": OS2} for run, ends in (("F1", ["a", "p"]), ("F2", ["p", "b"]))]
    paneled = Network(**plant.stated() | {"panels": [{"id": "p"}], "runs": halves})
    assert texts(paneled, CATALOG, {"a/1": "LX10"}) == [
        "unknown medium: b/eth: the media converter between its copper socket and F1, F2 is not stated, so this cannot be checked"
    ]


RATES = {
    "the highest that both modules run": ({"a/1": "DUAL", "b/1": "DUAL"}, []),
    "the one that a module and a faster one have in common": ({"a/1": "DUAL", "b/1": "LX10"}, []),
    "none in common": ({"a/1": "FX", "b/1": "LX10"}, ["rate: a/1: the link runs 1G, and FX runs 100M"]),
}


@pytest.mark.parametrize(("inventory", "found"), RATES.values(), ids=RATES)
def test_a_rate_that_is_not_stated_is_the_highest_that_all_run(inventory: dict[str, str], found: list[str]) -> None:
    plant = network({**PINNED, "rate": None}, F1=OS2)
    assert [text for text in texts(plant, CATALOG, inventory) if text.startswith("rate")] == found


def test_a_fixed_optic_is_held_to_the_rate_too() -> None:
    plant = network({"rate": "100M"}, b=(SOLDERED,), F1=OS2)
    assert [text for text in texts(plant, CATALOG, {"a/1": "DUAL"}) if text.startswith("rate")] == [
        "rate: b/up: the link runs 100M, and the fixed optic runs 1G"
    ]


@pytest.mark.parametrize("sides", [(), (0,), (1,), (0, 1)])
def test_modules_that_are_planned_where_they_are_stay(sides: tuple[int, ...]) -> None:
    planned = link(built_to("1000BASE-LX10"), built_to("1000BASE-LX10"), fiber(100))
    a, b = (end._replace(installed=end.holds) if side in sides else end for side, end in enumerate(planned.ends))
    assert taken_by(replace(planned, a=a, b=b)).kept == tuple(planned.ends[side].name for side in sides)


def test_only_a_module_that_is_planned_where_it_is_stays() -> None:
    planned = link(built_to("1000BASE-LX10"), built_to("1000BASE-LX10"), fiber(100))
    kept = planned.b.module.part if planned.b.module else None
    placed = replace(planned, a=planned.a._replace(installed="ANOTHER"), b=planned.b._replace(installed=kept))
    assert kept_ports([taken_by(placed)]) == {planned.b.name}


def test_what_the_network_says_is_installed_is_what_is_checked() -> None:
    plant = network(PINNED, F1=OM3).model_copy(update={"installed": {"a/1": "SX", "b/1": "SX"}})
    assert texts(plant, CATALOG) == []


# -- names that nothing has ---------------------------------------------------------------------------------------


def test_an_inventory_is_told_everything_that_is_not_there_at_once() -> None:
    plant = network({}, a=(CAGES, SOCKET), b=(CAGES, SOLDERED), F1=OS2)
    inventory = {"a/9": "LX10", "c/1": "LX10", "a/1": "NONE", "a/eth": "LX10", "b/up": "LX10", "b/1": "CORD"}
    with pytest.raises(UnknownNameError) as refused:
        check(plant, CATALOG, inventory)
    assert str(refused.value).splitlines() == [
        "the inventory is not of this network and catalog:",
        "  'a/1': the catalog has no module 'NONE'",
        "  'a/9': device 'a' has no port '9'",
        "  'a/eth': only a cage holds a module, and this is a copper port",
        "  'b/1': the catalog has no module 'CORD'",
        "  'b/up': only a cage holds a module, and this is a fixed optic",
        "  'c/1': there is no device 'c'",
    ]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return solve(network({}, {"rate": "100M"}, F1=OS2, F2=OM3), CATALOG)


def test_a_plan_of_this_network_is_no_error(plan: Plan) -> None:
    assert texts(network({}, {"rate": "100M"}, F1=OS2, F2=OM3), CATALOG, plan) == []


def test_a_plan_of_another_network_is_told_everything_that_differs(plan: Plan) -> None:
    other = Network(
        devices=[{"id": "a", "ports": [{"id": "x", "kind": "cage", "form": "SFP", "rates": ["1G"]}]}, {"id": "b", "ports": [CAGES]}, {"id": "c"}],
        runs=[{"id": "F1", "ends": ["a", "c"], "fiber": OS2}],
        links=[{"id": "L1", "ends": ["a", "b/2"], "rate": "100M"}],
    )
    first, second = (end.module for end in plan.links[0].ends)
    with pytest.raises(UnknownNameError) as refused:
        check(other, Catalog(modules=[{"part": "FX"}]), plan)
    assert str(refused.value).splitlines() == [
        "the plan is not of this network and catalog:",
        "  link 'L1': the runs F1 do not join 'a' and 'b'",
        "  link 'L1': it is to run 100M, and the plan has 1G",
        "  link 'L1': device 'a' has no port '1'",
        f"  link 'L1': the catalog has no module '{first}'",
        "  link 'L1': the catalog has no cord 'CORD'",
        "  link 'L1': it ends at 'b/2', and the plan has it at 'b/1'",
        f"  link 'L1': the catalog has no module '{second}'",
        "  link 'L1': the catalog has no cord 'CORD'",
        "  there is no link 'L2'",
    ]


def test_modules_of_an_inventory_draw_on_one_supply() -> None:
    """Two modules of 0.8 W in a device that feeds 1.5 W: each alone is within it."""
    plant = network(PINNED, {"ends": ["a/2", "b/2"]}, F1=OS2, F2=OS2)
    devices = [device.stated() | ({"module_power_w": 1.5} if device.id == "a" else {}) for device in plant.devices]
    fed = Network(**plant.stated() | {"devices": devices})
    both = {**BOTH_LX10, "a/2": "LX10", "b/2": "LX10"}
    assert texts(plant, CATALOG, both) == []
    assert texts(fed, CATALOG, both) == ["device-power: a: 1.5 W are there for all modules, and they draw 1.6 W"]
