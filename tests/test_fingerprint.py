"""The hash of a document tells what it states, not how it was written."""

import pickle

import pytest

from optiselect.model import fingerprint
from optiselect.model.fingerprint import hash_of, texts_of
from optiselect.model.network import Network
from optiselect.model.policy import Policy

_PORTS = [{"id": "1", "kind": "copper", "rates": ["1G", "100M"]}, {"id": "2", "kind": "copper", "rates": ["1G"]}]
_DEVICES = [{"id": "a", "site": "s", "ports": _PORTS}, {"id": "b", "site": "s", "ports": _PORTS}]
_FIBER = {"grade": "OS2", "length_m": 10, "strands": 2, "connectors": ["LC", "SC"]}


def network(devices=_DEVICES, routes=("east", "west"), ends=("a", "b"), fiber=_FIBER):
    sites = [{"id": "s", "ambient_c": [10, 20]}]
    return Network(sites=sites, devices=devices, runs=[{"id": "F1", "ends": ends, "routes": routes, "fiber": fiber}])


@pytest.mark.parametrize(
    "same",
    [
        network(devices=_DEVICES[::-1]),
        network(routes=("west", "east")),
        network(devices=[{**device, "ports": _PORTS[::-1]} for device in _DEVICES]),
        network(devices=[{**_DEVICES[0], "ports": [{**_PORTS[0], "rates": ["100M", "1G"]}, _PORTS[1]]}, _DEVICES[1]]),
    ],
)
def test_an_order_that_means_nothing_changes_no_hash(same):
    assert hash_of(same) == hash_of(network())


@pytest.mark.parametrize(
    "other",
    [
        network(ends=("b", "a")),
        network(fiber={**_FIBER, "connectors": ["SC", "LC"]}),
        network(fiber={**_FIBER, "length_m": 11}),
        network(routes=("east",)),
    ],
)
def test_what_a_document_states_changes_its_hash(other):
    assert hash_of(other) != hash_of(network())


def test_the_order_of_objectives_changes_the_hash():
    assert hash_of(Policy(objective=("links", "cost", "strands"))) != hash_of(Policy(objective=("links", "strands", "cost")))


def other_run(before):
    return Network(**{name: getattr(before, name) for name in ("sites", "devices")}, runs=[before.runs[0].stated() | {"id": "F2"}])


def test_texts_known_from_another_document_change_no_hash():
    before = network()
    assert hash_of(other_run(before), texts_of(before)) == hash_of(other_run(before)) != hash_of(before)


def test_a_document_keeps_its_hash_and_a_copy_that_differs_does_not(monkeypatch):
    before = network()
    first = hash_of(before)
    longer = before.model_copy(update={"runs": other_run(before).runs})
    assert hash_of(longer) == hash_of(other_run(before)) != first
    monkeypatch.setattr(fingerprint, "_pieces", None)  # nothing is written out again
    assert hash_of(before) == hash_of(before.model_copy()) == hash_of(pickle.loads(pickle.dumps(before))) == first
    assert before == network()
    assert before.stated() == network().stated()
