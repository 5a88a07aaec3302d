"""Nouns that state the same fields share the set of their names, which is never written on; rows of own values are the validated ones."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import pytest
from pydantic import ValidationError

from optiselect.model.document import Figures
from optiselect.model.network import CopperPort, Device, Network, Run
from optiselect.model.plan import Direction, PlannedEnd, PlannedLink
from optiselect.model.terms import lower_or_same

ENDS = tuple(PlannedEnd(device=device, port="1", fitting="module", module="LX") for device in ("a", "b"))
LINK: dict[str, Any] = {"id": "L1", "rate": "1G", "over": ("F1",), "strands": Figures({"F1": 2}), "ends": ENDS}


def test_a_row_of_own_values_is_the_validated_one() -> None:
    own, validated = PlannedLink.of_own(**LINK), PlannedLink(**LINK)
    assert own == validated
    assert hash(own) == hash(validated)
    assert own.stated() == validated.stated()
    assert list(own.model_dump()) == list(validated.model_dump())


def test_a_field_that_is_not_given_is_not_stated() -> None:
    assert "notes" not in PlannedLink.of_own(**LINK).stated()
    assert PlannedLink.of_own(**LINK, notes=("a note",)).stated()["notes"] == ["a note"]


def test_a_changed_copy_leaves_what_others_state_alone() -> None:
    one, other = PlannedLink.of_own(**LINK), PlannedLink.of_own(**LINK)
    noted = one.model_copy(update={"notes": ("a note",)})
    assert noted.stated()["notes"] == ["a note"]
    assert "notes" not in other.stated()


@pytest.mark.parametrize("copied", [copy.copy, copy.deepcopy, lambda row: pickle.loads(pickle.dumps(row))], ids=["copy", "deep copy", "pickle"])
def test_a_copy_is_equal(copied: Any) -> None:
    row = Direction.of_own(from_="a/1", to="b/1", margin_db=1.5)
    assert copied(row) == row == Direction(**{"from": "a/1"}, to="b/1", margin_db=1.5)
    assert copied(row).stated() == {"from": "a/1", "to": "b/1", "margin_db": 1.5}


def runs() -> tuple[Run, Run]:
    return tuple(Run(id=name, ends=("a", "b"), fiber={"grade": "OS2", "length_m": 10, "strands": 2}) for name in ("F1", "F2"))


def test_nouns_that_state_the_same_fields_share_the_set_of_their_names() -> None:
    one, other = runs()
    assert one.model_fields_set is other.model_fields_set
    assert one.fiber.model_fields_set is other.fiber.model_fields_set
    assert one.stated() == {"id": "F1", "ends": ["a", "b"], "fiber": {"grade": "OS2", "length_m": 10.0, "strands": 2}}


def test_a_set_that_a_caller_gave_stays_the_callers() -> None:
    given = {"id", "ends"}
    Run.model_construct(_fields_set=given, id="F1", ends=("a", "b"))
    given.add("routes")
    assert "routes" not in Run.model_construct(_fields_set={"id", "ends"}, id="F2", ends=("a", "b")).model_fields_set


def test_a_port_always_states_its_kind() -> None:
    port = CopperPort(id="1", rates=["1G"])
    assert port.stated() == {"kind": "copper", "id": "1", "rates": ["1G"]}
    assert port.model_fields_set is CopperPort(id="2", kind="copper", rates=["1G"]).model_fields_set


# -- what is asked for in vain ------------------------------------------------------------------------------------


def test_figures_are_frozen() -> None:
    with pytest.raises(TypeError, match="figures of a document are frozen"):
        Figures({"OM1": 1.0})["OM1"] = 2.0


def test_device_without_a_port_of_that_name() -> None:
    with pytest.raises(KeyError, match="9"):
        Device(id="a", ports=[{"id": "1", "kind": "copper", "rates": ["1G"]}]).port("9")


def test_grade_of_no_ladder() -> None:
    with pytest.raises(KeyError, match="OM9"):
        lower_or_same("OM9")  # type: ignore[arg-type]


def test_document_of_something_else_than_keys_and_values() -> None:
    with pytest.raises(ValidationError, match="valid dictionary"):
        Network.model_validate([1])


def test_a_row_of_all_fields_is_the_validated_one_and_states_them_all() -> None:
    fields = {"device": "a", "port": "1", "fitting": "module", "converter": None, "module": "M", "cord": None, "attenuator": None}
    own, validated = PlannedEnd.of_whole(dict(fields)), PlannedEnd(**fields)
    assert own == validated
    assert own.stated() == validated.stated() == fields
    assert own.model_dump_json() == validated.model_dump_json()


def test_what_was_looked_up_in_a_network_is_looked_up_anew_in_a_changed_copy() -> None:
    one, other = runs()
    network = Network(devices=[{"id": "a"}, {"id": "b"}], runs=[one])
    assert list(network.run_by_id) == ["F1"]
    assert list(network.model_copy(update={"runs": (other,)}).run_by_id) == ["F2"]
    assert list(network.run_by_id) == ["F1"]
