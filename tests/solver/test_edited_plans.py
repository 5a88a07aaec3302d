"""A plan that was cut or changed by hand does not pass for a checked one: the check says what it leaves out and where it contradicts itself."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.errors import UnknownNameError
from optiselect.model.network import Network
from optiselect.model.plan import Plan, PlannedLink
from optiselect.model.policy import Policy
from optiselect.solver.audit import check
from optiselect.solver.solve import solve
from tests.solver.test_audit import CATALOG, OM3, OS2, network

NETWORK = network({}, {"rate": "100M", "over": ["F2"]}, {"over": ["F1"], "rate": "10G"}, F1=OS2, F2=OM3)
PLAN = solve(NETWORK, CATALOG, Policy(exclude_parts=("DUAL",)))
"""L1 has two of LX and two cords, L2 two of FX, and for L3 there is nothing."""
L1, L2, L3 = *PLAN.links, *PLAN.unserved
BILL = {line.part: line for line in PLAN.parts}


def with_module(link: PlannedLink, part: str) -> PlannedLink:
    return link.model_copy(update={"ends": tuple(end.model_copy(update={"module": part}) for end in link.ends)})


OF_ANOTHER = "the plan is not of this network and catalog:"
CONTRADICTS = "the plan does not agree with itself, so it was changed by hand; plan again:"
EDITS: dict[str, tuple[dict[str, Any], list[str]]] = {
    "a link is cut out": ({"links": (L2,)}, [OF_ANOTHER, "  the network wants link 'L1', and the plan says nothing of it"]),
    "a refusal is cut out": ({"unserved": ()}, [OF_ANOTHER, "  the network wants link 'L3', and the plan says nothing of it"]),
    "everything is cut out": (
        {"links": (), "unserved": (), "parts": ()},
        [OF_ANOTHER, *(f"  the network wants link 'L{number}', and the plan says nothing of it" for number in (1, 2, 3))],
    ),
    "a link is served and not served": (
        {"unserved": (L3, L3.model_copy(update={"id": "L2"}))},
        [OF_ANOTHER, "  link 'L2' is both served and not served in the plan"],
    ),
    "a link is not served twice": ({"unserved": (L3, L3)}, [OF_ANOTHER, "  link 'L3' is listed 2 times as not served"]),
    "a link is served twice": ({"links": (L1, L2, L2)}, [OF_ANOTHER, "  link 'L2' is planned twice"]),
    "a refusal of no link": (
        {"unserved": (L3, L3.model_copy(update={"id": "L9"}))},
        [OF_ANOTHER, "  link 'L9' is not served in the plan, and there is no such link"],
    ),
    "a run of no network": ({"links": (L1.model_copy(update={"over": ("F9",)}), L2)}, [OF_ANOTHER, "  link 'L1': there is no run 'F9'"]),
    "runs that follow no chain": (
        {"links": (L1.model_copy(update={"over": ("F1", "F2")}), L2)},
        [OF_ANOTHER, "  link 'L1': the runs F1, F2 do not join 'a' and 'b'"],
    ),
    "another run than is wanted": (
        {"links": (L1, L2.model_copy(update={"over": ("F1",)}))},
        [OF_ANOTHER, "  link 'L2': it is to go over F2, and the plan has it over F1"],
    ),
    "no run where one is wanted": (
        {"links": (L1, L2.model_copy(update={"over": ()}))},
        [OF_ANOTHER, "  link 'L2': it is to go over F2, and the plan has it over nothing"],
    ),
    "no run at all": ({"links": (L1.model_copy(update={"over": ()}), L2)}, [OF_ANOTHER, "  link 'L1': the runs (none) do not join 'a' and 'b'"]),
    "an end at no device": (
        {"links": (L1.model_copy(update={"ends": (L1.ends[0].model_copy(update={"device": "z"}), L1.ends[1])}), L2)},
        [OF_ANOTHER, "  link 'L1': there is no device 'z'"],
    ),
    "a part that nobody sells": (
        {"parts": (*PLAN.parts, BILL["LX"].model_copy(update={"part": "NONE", "used": 0}))},
        [OF_ANOTHER, "  the plan's bill has 'NONE', and the catalog has no such part"],
    ),
    "modules are changed and the bill is not": (
        {"links": (with_module(L1, "LX10"), L2)},
        [CONTRADICTS, "  the bill has 2 of 'LX' in use, and the links use 0", "  the bill has 0 of 'LX10' in use, and the links use 2"],
    ),
    "the bill has too few": (
        {"parts": (BILL["LX"].model_copy(update={"used": 1}), BILL["FX"], BILL["CORD"])},
        [CONTRADICTS, "  the bill has 1 of 'LX' in use, and the links use 2"],
    ),
    "a line of the bill is cut out": ({"parts": (BILL["LX"], BILL["FX"])}, [CONTRADICTS, "  the bill has 0 of 'CORD' in use, and the links use 2"]),
}


def test_the_plan_as_it_was_made_is_clean() -> None:
    assert [finding for finding in check(NETWORK, CATALOG, PLAN) if not finding.unknown] == []


@pytest.mark.parametrize(("changes", "told"), EDITS.values(), ids=EDITS)
def test_an_edit_is_told(changes: dict[str, Any], told: list[str]) -> None:
    with pytest.raises(UnknownNameError) as refused:
        check(NETWORK, CATALOG, PLAN.model_copy(update=changes))
    assert str(refused.value).splitlines() == told


def test_a_link_that_is_let_go_with_its_refusal_and_its_parts_is_an_honest_plan() -> None:
    refusal = L3.model_copy(update={"id": "L2"})
    changed: Plan = PLAN.model_copy(update={"links": (L1,), "unserved": (refusal, L3), "parts": (BILL["LX"], BILL["CORD"])})
    assert [finding for finding in check(NETWORK, CATALOG, changed) if not finding.unknown] == []


# -- over a panel, with all that an end can have -------------------------------------------------------------------

THROUGH = Network(
    **NETWORK.stated()
    | {
        "devices": [*NETWORK.stated()["devices"], {"id": "c"}],
        "panels": [{"id": "p"}],
        "runs": [{"id": run, "ends": ends, "fiber": {**OS2, "strands": 8}} for run, ends in (("F1", ["a", "p"]), ("F2", ["p", "b"]), ("F3", ["b", "c"]))],
        "links": [{"id": "L1", "ends": ["a", "b"], "rate": "1G", "over": ["F1", "F2"]}, {"id": "L2", "ends": ["a", "b"], "rate": "1G"}],
    }
)
ACROSS = solve(THROUGH, CATALOG)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"over": ("F3",)}, ["  link 'L2': the runs F3 do not join 'a' and 'b'"]),
        (
            {"ends": tuple(end.model_copy(update={"converter": "NONE"}) for end in ACROSS.links[1].ends)},
            ["  link 'L2': the catalog has no converter 'NONE'"] * 2,
        ),
        ({"ends": tuple(end.model_copy(update={"attenuator": "AT"}) for end in ACROSS.links[1].ends)}, ["  link 'L2': the catalog has no attenuator 'AT'"] * 2),
        ({"ends": tuple(end.model_copy(update={"cord": "CO"}) for end in ACROSS.links[1].ends)}, ["  link 'L2': the catalog has no cord 'CO'"] * 2),
    ],
    ids=["runs", "converter", "attenuator", "cord"],
)
def test_an_edit_over_a_panel_is_told(changes: dict[str, Any], told: list[str]) -> None:
    one, two = ACROSS.links
    with pytest.raises(UnknownNameError) as refused:
        check(THROUGH, CATALOG, ACROSS.model_copy(update={"links": (one, two.model_copy(update=changes))}))
    assert str(refused.value).splitlines() == [OF_ANOTHER, *told]


def test_a_chain_that_is_stated_is_told_whole() -> None:
    one, two = ACROSS.links
    with pytest.raises(UnknownNameError, match="it is to go over F1, F2, and the plan has it over F2"):
        check(THROUGH, CATALOG, ACROSS.model_copy(update={"links": (one.model_copy(update={"over": ("F2",)}), two)}))
