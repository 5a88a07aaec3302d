"""What parts of a network say of one another: every reference to what is not there, and every id that two things have."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect.errors import DocumentError, UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.patch import patched
from optiselect.model.policy import Policy
from optiselect.model.refusal import Edit

CAGES = {"ids": "1-2", "kind": "cage", "form": "SFP", "rates": ["1G"]}
SOCKET = {"id": "eth", "kind": "copper", "rates": ["1G"]}
FIBER = {"grade": "OS2", "length_m": 100, "strands": 2}
SOUND: dict[str, Any] = {
    "devices": [{"id": "a", "ports": [CAGES, SOCKET]}, {"id": "b", "ports": [CAGES]}],
    "panels": [{"id": "p"}],
    "runs": [{"id": "F1", "ends": ["a", "p"], "fiber": FIBER}, {"id": "F2", "ends": ["p", "b"], "fiber": FIBER}],
    "links": [{"id": "L1", "ends": ["a", "b"], "over": ["F1", "F2"]}],
}


def link(**more: Any) -> dict[str, Any]:
    return {"links": [SOUND["links"][0] | more]}


FAULTS: dict[str, tuple[dict[str, Any], str]] = {
    "a panel of a device's id": ({"panels": [{"id": "p"}, {"id": "a"}]}, "devices[0].id: 'a' is also the id of a panel"),
    "a port twice": ({"devices": [{"id": "a", "ports": [CAGES, {**SOCKET, "id": "2"}]}, SOUND["devices"][1]]}, "devices[0].ports[1]: port '2' is there twice"),
    "a site of no list": ({"panels": [{"id": "p", "site": "hall"}]}, "panels[0].site: there is no site 'hall'"),
    "a module in no port": ({"installed": {"a/9": "X"}}, "installed.a/9: device 'a' has no port '9'"),
    "a module in a socket": ({"installed": {"a/eth": "X"}}, "installed.a/eth: only a cage can hold a module"),
    "a module in no device": ({"installed": {"c/1": "X"}}, "installed.c/1: there is no device 'c'"),
    "a link to a panel": (link(ends=["a", "p"], over=None), "links[0].ends[1]: 'p' is a panel; a link ends at devices"),
    "a link to no port": (link(ends=["a/9", "b"]), "links[0].ends[0]: device 'a' has no port '9'"),
    "a link diverse from itself": (link(diverse_from=["L1"]), "links[0].diverse_from[0]: a link cannot be diverse from itself"),
    "a link diverse from none": (link(diverse_from=["L9"]), "links[0].diverse_from[0]: there is no link 'L9'"),
    "runs in the wrong order": (link(over=["F2", "F1"]), "links[0].over[0]: run 'F2' does not start at 'a'; it joins 'p' and 'b'"),
    "a run twice": (link(over=["F1", "F1"]), "links[0].over[1]: run 'F1' is already in this chain"),
    "a run of no list": (link(over=["F9", "F2"]), "links[0].over[0]: there is no run 'F9'"),
    "too many ports in a piece": ({"devices": [{"id": "a", "ports": [{**CAGES, "ids": "1-99999"}]}, SOUND["devices"][1]]}, "ids: more than 4096 ports"),
    "a port id with a slash": (
        {"devices": [{"id": "a", "ports": [{**CAGES, "ids": "1,x/y"}]}, SOUND["devices"][1]]},
        "a port id is non-empty text without '/'",
    ),
}


def test_the_sound_network_is_sound() -> None:
    assert [found.id for found in Network(**SOUND).wanted] == ["L1"]


@pytest.mark.parametrize(("changes", "told"), FAULTS.values(), ids=FAULTS)
def test_reference_that_does_not_fit_is_told(changes: dict[str, Any], told: str) -> None:
    with pytest.raises(DocumentError) as refused:
        Network(**SOUND | changes)
    assert told in str(refused.value)


def test_prices_in_two_currencies_are_not_added_up() -> None:
    with pytest.raises(DocumentError, match="prices in EUR and USD cannot be added up"):
        Catalog.merge([Catalog(currency="EUR"), Catalog(currency="USD")])


# -- a fix that speaks of one port of several ---------------------------------------------------------------------


def ports_after(ids: str, port: str) -> list[tuple[str, ...]]:
    network = Network(devices=[{"id": "a", "ports": [{**CAGES, "ids": ids}]}])
    edit = Edit(do="set", at=("devices", "a", "ports", port, "rates"), value=["10G"])
    changed, _, _ = patched("network", (edit,), network, Catalog(), Policy())
    assert {name: found.rates for name, found in changed.devices[0].port_by_id.items() if found.rates == ("10G",)} == {port: ("10G",)}
    return [found.names for found in changed.devices[0].ports]


@pytest.mark.parametrize(("ids", "port", "left"), [("1-3", "2", [("1", "3"), ("2",)]), ("1-2", "1", [("2",), ("1",)]), ("a1-a1", "a1", [("a1",)])])
def test_port_that_is_stated_with_others_is_taken_out_of_them(ids: str, port: str, left: list[tuple[str, ...]]) -> None:
    assert ports_after(ids, port) == left


def test_place_that_is_not_there_is_told() -> None:
    edit = Edit(do="set", at=("devices", "a", "ports", "9", "rates"), value=["10G"])
    with pytest.raises(UnknownNameError, match="there is no '9' at devices a ports 9"):
        patched("network", (edit,), Network(**SOUND), Catalog(), Policy())
