"""The published JSON Schema accepts what the models accept, but for the few things that a schema cannot say.

The judge of the schema is jsonschema, which knows nothing of the models; valid documents are broken at random and both are asked.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from optiselect import solve
from optiselect.demo import demo_policy
from optiselect.errors import DocumentError, Fault
from optiselect.formats.schema import CHECKED_AFTER_READING, json_schema
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from tests.formats.quay import QUAY, SHELF
from tests.handover.pier import CATALOG, HASHES, NETWORK, plan

Path_ = tuple[str | int, ...]

HARBOR_RULES = Policy.model_validate(
    {
        "objective": ["links", "changes", "cost"],
        "attenuation": {"OM1": {"840-860": 3.5, "1260-1360": 1.5}},
        "spares": {"service_level": 0.99},
        "exclude_parts": ["M-1"],
        "lifecycles": ["active", "last-order"],
        "laser_classes": ["1", "1M"],
        "waivers": [{"rule": "reach", "link": "L1", "reason": "measured"}],
        "design_margin_db": 1,
        "allow_converters": False,
        "seed": 7,
    }
)
LIGHT = [{"rule": "light-budget", "path": "runs[0]", "required": 6.0, "available": "unknown", "unit": "dB"}]
CROWDED = plan(unserved=[{"id": "L9", "kind": "crowded-out", "request": {"over": ["F1"]}, "candidates": 1, "tally": [], "conflict": LIGHT}])
DOCUMENTS: list[Document] = [QUAY, SHELF, NETWORK, CATALOG, HARBOR_RULES, demo_policy(), plan(), CROWDED]

UNSAYABLE = {
    "ids and part numbers are unique in their kind, and whatever is named is there": (
        "is already the (id|part number) of|is also the id of a panel|is there twice|there is no (site|device|panel|run|link|device or panel) "
        "|has no port|only a cage can hold|is not a device of this network|cannot be diverse from itself"
    ),
    "a chain of runs joins, through panels, the two devices of its link": "already in this chain|does not start at|chained through panels|the chain ends at",
    "a link ends at two devices": "a panel; a link ends at devices|both ends are on one device",
    "a range is [low, high]": r"write \[low, high\]",
    "strands in use are not more than the strands": "strands cannot be in use",
    "a list of port ids can be expanded (a1-a4), to at most 4096 ports": (
        "is not a range; write|more than 4096 ports|more than 262144 characters|a port id is non-empty text"
    ),
    "the devices together have at most 1000000 ports": "the devices have more than 1000000",
}
"""What `CHECKED_AFTER_READING` lists, by the words of its faults."""


def faults_of(cls: type[Document], data: Any, folder: Path) -> tuple[Fault, ...]:
    (folder / "it.json").write_text(json.dumps(data), encoding="utf-8")
    try:
        cls.load(folder / "it.json")
    except DocumentError as error:
        return error.faults
    return ()


def stated(document: Document) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(json.dumps({"format": document.format(), **document.stated()}))
    return data


@cache
def schema_of(cls: type[Document]) -> Draft202012Validator:
    return Draft202012Validator(json_schema(cls))


@pytest.mark.parametrize("cls", [Network, Catalog, Policy, Plan])
def test_schema_is_one_of_its_draft(cls: type[Document]) -> None:
    Draft202012Validator.check_schema(json_schema(cls))
    assert json_schema(cls)["$id"] == f"optiselect-{cls.what}/1"


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda document: document.what)
def test_schema_accepts_what_a_document_states(document: Document) -> None:
    schema_of(type(document)).validate(stated(document))


@pytest.mark.parametrize("document", [Network(), Catalog(), Policy()], ids=lambda document: document.what)
def test_schema_accepts_a_document_that_states_nothing(document: Document) -> None:
    schema_of(type(document)).validate({})
    schema_of(type(document)).validate(json.loads(document.model_dump_json(by_alias=True)))


def test_schema_accepts_a_solved_plan() -> None:
    solved = solve(NETWORK, CATALOG)
    assert solved.links
    schema_of(Plan).validate(json.loads(json.dumps(solved.stated())))
    schema_of(Plan).validate(json.loads(solved.model_dump_json(by_alias=True)))


VALUES: list[Any] = [
    *(None, True, False, 0, 1, -1, 2, 8, 3, 0.5, 1.0, -273.5, 150, 1e6 + 1, 2_000_000_001, 10**15, 10**15 + 1, 1e16, -1e300),
    *("", "1", "1G", "OM1", "OS2", "LC", "UPC", "SFP", "L1", "F1", "links", "no", "true", "a/b", "a/b/c", "1310", "840-860", "4-1", "1-4", "x" * 20_001),
    *([], {}, [1], [1, 2], [2, 1], [850.0, 860], ["LC", "LC"], ["UPC", "APC"], ["a"], ["links", "cost"], ["cost", "links"], ["links", "links"], ["1G"]),
    *({"OM1": 1}, {"1310": 1}, {"1310.5": 2.5}, {"399": 1}, {"2000.0": 1}, {"500": 1}, {"010/1": "x"}, {"1G": {}}, {"zzz": 1}, {"fiber": None}),
]


def places_in(value: Any, path: Path_ = ()) -> Iterator[Path_]:
    for step in value if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ():
        yield (*path, step)
        yield from places_in(value[step], (*path, step))


def at(data: Any, path: Path_) -> Any:
    for step in path:
        data = data[step]
    return data


@st.composite
def broken_documents(draw: st.DrawFn) -> tuple[type[Document], dict[str, Any]]:
    """A valid document with one or two changes: a key dropped, unknown, or of another value; an item doubled, moved, or from elsewhere."""
    document = draw(st.sampled_from(DOCUMENTS))
    data = stated(document)
    for _ in range(draw(st.integers(1, 2))):
        places = list(places_in(data))
        path = draw(st.sampled_from(places))
        holder, step = at(data, path[:-1]), path[-1]
        held = holder[step]
        change = draw(st.sampled_from(["drop", "value", "value", "value", "unknown", "null", "elsewhere", "double", "turn", "scale"]))
        scaled = held * draw(st.sampled_from([-1, 0, 10, 1e3, 1e6])) if type(held) in (int, float) else held
        changed = {
            "value": draw(st.sampled_from(VALUES)) if change == "value" else held,
            "unknown": {**held, "zzz": 1} if isinstance(held, dict) else held,
            "null": None,
            "elsewhere": at(data, draw(st.sampled_from(places))) if change == "elsewhere" else held,
            "double": [*held, *held] if isinstance(held, list) else held,
            "turn": held[::-1] if isinstance(held, list) else held,
            "scale": scaled,
        }
        if change == "drop":
            del holder[step]
        else:
            holder[step] = copy.deepcopy(changed[change])
    return type(document), data


@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(broken_documents())
def test_schema_and_models_accept_the_same_documents(tmp_path: Path, broken: tuple[type[Document], dict[str, Any]]) -> None:
    """Law: a schema accepts a document exactly when all that the models find wrong is what `CHECKED_AFTER_READING` lists."""
    cls, data = broken
    sayable = [fault for fault in faults_of(cls, data, tmp_path) if not any(re.search(words, fault.message) for words in UNSAYABLE.values())]
    assert schema_of(cls).is_valid(data) == (not sayable), sayable


def test_all_that_is_left_to_the_reader_is_listed() -> None:
    assert set(UNSAYABLE) == set(CHECKED_AFTER_READING)


A_B: dict[str, Any] = {"devices": [{"id": "a"}, {"id": "b"}], "panels": [{"id": "p"}]}
AP: dict[str, Any] = {"id": "ap", "ends": ["a", "p"], "copper": {"category": "Cat6", "length_m": 1}}
FIBER: dict[str, Any] = {"grade": "OM1", "length_m": 1, "strands": 2}


@pytest.mark.parametrize(
    ("checked", "data"),
    [
        (CHECKED_AFTER_READING[0], {"sites": [{"id": "s"}, {"id": "s"}]}),
        (CHECKED_AFTER_READING[0], {"devices": [{"id": "a", "site": "s"}]}),
        (CHECKED_AFTER_READING[1], {**A_B, "runs": [AP], "links": [{"id": "L", "ends": ["a", "b"], "over": ["ap"]}]}),
        (CHECKED_AFTER_READING[2], {**A_B, "links": [{"id": "L", "ends": ["a/1", "a/2"]}]}),
        (CHECKED_AFTER_READING[2], {**A_B, "links": [{"id": "L", "ends": ["a", "p"]}]}),
        (CHECKED_AFTER_READING[3], {"sites": [{"id": "s", "ambient_c": [30, 10]}]}),
        (CHECKED_AFTER_READING[4], {**A_B, "runs": [{"id": "F", "ends": ["a", "b"], "fiber": {**FIBER, "strands_in_use": 3}}]}),
        (CHECKED_AFTER_READING[5], {"devices": [{"id": "a", "ports": [{"ids": "a1-b2", "kind": "copper", "rates": ["1G"]}]}]}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_left_to_the_reader_is_accepted_by_the_schema_and_refused_by_it(checked: str, data: dict[str, Any], tmp_path: Path) -> None:
    assert schema_of(Network).is_valid(data)
    assert re.search(UNSAYABLE[checked], faults_of(Network, data, tmp_path)[0].message)


@pytest.mark.parametrize(
    ("cls", "data"),
    [
        (Network, {"devices": [{"id": "a", "ports": [{"kind": "copper", "rates": ["1G"]}]}]}),
        (Network, {"devices": [{"id": "a", "ports": [{"id": "1", "ids": "1-2", "kind": "copper", "rates": ["1G"]}]}]}),
        (Network, {"devices": [{"id": "a", "ports": [{"id": "1", "rates": ["1G"]}]}]}),
        (Network, {**A_B, "runs": [{"id": "F", "ends": ["a", "b"]}]}),
        (Network, {**A_B, "runs": [{"id": "F", "ends": ["a", "b"], "fiber": FIBER, "copper": AP["copper"]}]}),
        (Network, {**A_B, "runs": [{"id": "F", "ends": ["a", "a"], "fiber": FIBER}]}),
        (Catalog, {"converters": [{"part": "K", "copper_rates": ["1G"]}]}),
        (Catalog, {"converters": [{"part": "K", "copper_rates": ["1G"], "form": "SFP"}]}),
        (Catalog, {"converters": [{"part": "K", "copper_rates": ["1G"], "form": "SFP", "rates": ["1G"], "optic": {}}]}),
        (Policy, {"objective": ["cost"]}),
        (Policy, {"objective": ["links", "cost", "cost"]}),
        (Policy, {"waivers": [{"rule": "form", "link": "L"}]}),
        (Policy, {"rules": []}),
        (Policy, {"format": "optiselect-policy/2"}),
        (Plan, {"hashes": HASHES}),
        (Plan, {"status": "optimal"}),
        (Plan, {"status": "optimal", "hashes": {"network": "", "catalog": ""}}),
        (Plan, {"status": "optimal", "hashes": HASHES, "objective": [{"name": "cost", "value": 1, "bound": 1e16}]}),
    ],
)
def test_what_keys_owe_each_other_is_refused_by_both(cls: type[Document], data: dict[str, Any], tmp_path: Path) -> None:
    assert not schema_of(cls).is_valid(data)
    assert len(faults_of(cls, data, tmp_path)) == 1


@pytest.mark.parametrize("data", [{"reproducible": 1}, {"reproducible": "yes"}, {"proof": {"confirmed": "no"}}])
def test_yes_or_no_of_a_plan_is_true_or_false(data: dict[str, Any], tmp_path: Path) -> None:
    assert not schema_of(Plan).is_valid({"status": "optimal", "hashes": HASHES, **data})
    assert faults_of(Plan, {"status": "optimal", "hashes": HASHES, **data}, tmp_path)


@pytest.mark.parametrize("nothing", [None, "left out"])
def test_key_that_is_null_is_a_key_that_is_left_out(nothing: str | None, tmp_path: Path) -> None:
    run = {"id": "F", "ends": ["a", "b"], "fiber": FIBER, "copper": nothing}
    data = {**A_B, "runs": [{key: value for key, value in run.items() if value != "left out"}]}
    assert schema_of(Network).is_valid(data)
    assert faults_of(Network, data, tmp_path) == ()
