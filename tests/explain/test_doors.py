"""Explanations that were cut short, of plans that were not finished, and of what is seldom met."""

from __future__ import annotations

from typing import Any

import pytest

from optiselect import Policy, explain, solve
from optiselect.explain import candidates, conflicts, fixes, wording
from optiselect.explain.candidates import Candidates
from optiselect.explain.conflicts import smallest_conflict
from optiselect.explain.crowded import crowding
from optiselect.explain.ground import Ground
from optiselect.explain.proposals import Proposal
from optiselect.model.explanation import Alternative
from optiselect.model.plan import Direction, PlannedEnd, Refusal
from optiselect.model.refusal import Edit, Effect, Fact
from tests.explain.scenes import CONVERTER, COPPER_PORTS, LX, PAD, SCENES, SX, ZX, Documents, fiber, site
from tests.solver.families import case


def told(documents: Documents, link: str = "L1") -> Any:
    network, catalog, policy = documents
    return explain(network, catalog, link, policy)


def kinds(documents: Documents) -> set[str]:
    return {fix.kind for fix in told(documents).fixes}


# -- cut short ----------------------------------------------------------------------------------------------------


RING, STAR = [0b00011, 0b00110, 0b01100, 0b11000, 0b10001], [0b0011, 0b0101, 0b1001, 0b0010, 0b0100, 0b1000]

CHAIN = [0b00011, 0b00101, 0b01100, 0b10010]
"""What meets most of these is not needed beside what meets the rest."""


@pytest.mark.parametrize(("masks", "fewest"), [(RING, 3), (STAR, 3), (CHAIN, 2)], ids=["ring", "star", "chain"])
def test_conflict_that_is_not_searched_to_its_end_still_stops_everything(masks: list[int], fewest: int, monkeypatch: pytest.MonkeyPatch) -> None:
    smallest = smallest_conflict(masks)
    assert (len(smallest.bits), smallest.is_smallest) == (fewest, True)
    monkeypatch.setattr(conflicts, "MOST_STEPS", 0)
    cut = smallest_conflict(masks)
    assert not cut.is_smallest
    assert all(any(mask >> bit & 1 for bit in cut.bits) for mask in masks)
    assert not any(all(any(mask >> bit & 1 for bit in cut.bits if bit != spare) for mask in masks) for spare in cut.bits)


CUT: dict[str, tuple[str, Documents, str]] = {
    "all": ("MOST_LOOKS", case(0), "L0"),
    "the smallest conflict": ("MOST_LOOKS", case(4), "L0"),
    "the nearest": ("NEAREST_LOOKS", SCENES["converters are not allowed"](), "L1"),
}


@pytest.mark.parametrize(("most", "documents", "link"), CUT.values(), ids=CUT)
def test_search_that_is_cut_short_says_so(most: str, documents: Documents, link: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(candidates, most, 1)
    monkeypatch.setattr(candidates, "_AT_ONCE", 1)
    assert told(documents, link).cut_short


# -- plans that were not finished ---------------------------------------------------------------------------------


def test_link_that_has_room_lacks_nothing() -> None:
    documents = site(fiber("OS2", 800), [LX])
    ground = Ground(*documents)
    plan = solve(*documents)
    empty = plan.model_copy(update={"links": ()})
    found = crowding(Candidates(ground, ground.links["L1"]), empty)
    assert (found.conflict, [entry.rule for entry in found.tally]) == ((), [None])


def test_weight_that_costs_nobody_a_place_is_no_fix() -> None:
    documents = site(fiber("OS2", 800), [LX])
    empty = solve(*documents).model_copy(update={"links": ()})
    weight = Proposal("weight", "policy", "network", (Edit(at=("links", "L1", "weight"), value=9),), "put it first")
    assert fixes._solved(Ground(*documents), empty, "L1", weight, lambda: False) is None


def test_change_that_a_document_refuses_is_no_fix() -> None:
    documents = site(fiber("OS2", 800), [LX])
    absurd = Proposal("cable", "cable", "network", (Edit(at=("runs", "F1", "fiber", "length_m"), value=-1),), "shorten it")
    assert not fixes._serves_alone(Ground(*documents), "L1", absurd)


# -- seldom met ---------------------------------------------------------------------------------------------------


def test_device_without_a_port_is_what_stands_against_its_links() -> None:
    refusal = told(site(fiber("OS2", 800), [LX], gate={"ports": []}))
    assert [(fact.rule, fact.text) for fact in refusal.conflict] == [("form", "gate has no port")]
    assert refusal.candidates == 0


TAKEN: dict[str, tuple[Documents, str]] = {
    "a module": (site(fiber("OS2", 800), [SX, LX | {"part": "TO-ASK-FOR-1G-1"}], policy={"exclude_parts": ["TO-ASK-FOR-1G-1"]}), "TO-ASK-FOR-1G-X-1"),
    "a cord": (
        site(
            fiber("OS2", 800, connectors=["SC", "SC"], polish="UPC"),
            [LX],
            cords=[{"part": "TO-ASK-FOR-CORD-1", "grade": "OM1", "connectors": ["LC", "LC"], "polish": ["UPC", "UPC"], "strands": 2}],
        ),
        "TO-ASK-FOR-CORD-1-X",
    ),
}


@pytest.mark.parametrize(("documents", "name"), TAKEN.values(), ids=TAKEN)
def test_part_to_ask_for_has_a_name_that_nothing_has(documents: Documents, name: str) -> None:
    assert name in {edit.value["part"] for fix in told(documents).fixes for edit in fix.edits if edit.do == "add"}


def test_attenuator_that_is_there_and_left_out_is_not_proposed_again() -> None:
    strong = site(fiber("OS2", 900), [ZX])
    name = next(edit.value["part"] for fix in told(strong).fixes if fix.kind == "attenuator" for edit in fix.edits)
    left_out = site(fiber("OS2", 900), [ZX], attenuators=[PAD | {"part": name, "loss_db": 8}], policy={"exclude_parts": [name]})
    assert "attenuator" not in kinds(left_out)


def test_converter_that_is_there_and_left_out_is_not_proposed_again() -> None:
    asked = site(fiber("OS2", 800), [LX], gate=COPPER_PORTS)
    name = next(edit.value["part"] for fix in told(asked).fixes if fix.kind == "converter" for edit in fix.edits)
    left_out = site(fiber("OS2", 800), [LX], gate=COPPER_PORTS, converters=[CONVERTER | {"part": name}], policy={"exclude_parts": [name]})
    assert not any(edit.do == "add" and edit.value["part"] == name for fix in told(left_out).fixes for edit in fix.edits)


def soldered(run: dict[str, Any], without: tuple[str, ...] = (), **more: Any) -> Documents:
    """A gate whose port has an optic of its own, of which something is not stated."""
    stated = {key: ZX[key] for key in ("medium", "mode", "strands", "tx_nm", "rx_nm", "tx_dbm", "rx_dbm", "rates") if key not in without} | more
    return site(run, [SX], gate={"ports": [{"id": "up", "kind": "fixed", "optic": stated}]})


LOSSY = fiber("OS2", 99_000, attenuation_db_km={"1310": 0.9, "1550": 0.9})
NOTHING_TO_ASK_FOR: dict[str, Documents] = {
    "farther than light goes": site(fiber("OS2", 200_000), [SX]),
    "an optic that does not say what it hears": soldered(fiber("OS2", 800), ("rx_nm", "rx_dbm")),
    "an optic of one strand that hears what it sends": soldered(fiber("OS2", 800), strands=1, rx_nm=[1540, 1570]),
    "an optic of unknown power": soldered(fiber("OS2", 800), ("tx_dbm",)),
    "an optic that bears less than it needs": soldered(LOSSY, rx_dbm=[-24, -23.9]),
}


@pytest.mark.parametrize("documents", NOTHING_TO_ASK_FOR.values(), ids=NOTHING_TO_ASK_FOR)
def test_part_that_cannot_be_specified_is_not_asked_for(documents: Documents) -> None:
    answer = told(documents)
    assert not isinstance(answer, Refusal) or answer.missing_part is None


def test_words_for_what_has_no_figures() -> None:
    assert wording.gap(Fact(rule="form", path="devices.a")) == "form at devices.a"
    assert wording._light(Direction(**{"from": "a/1"}, to="b/1")) == "margin unknown"
    assert wording._several(("a", "b", "c", "d", "e"), "links") == "a, b and 3 more links"


REFUSAL = told(SCENES["too little light"]())
END = PlannedEnd(device="a", port="1", fitting="module", module="LX-I")


def test_words_where_there_is_little_to_say() -> None:
    miss = REFUSAL.nearest_misses[0]
    assert wording._conflict(REFUSAL, (), 5) == []
    assert wording._miss(miss, {}).endswith(f"stopped by {wording.gap(miss.breaches[0])} only")
    assert wording._serving(REFUSAL.model_copy(update={"serving": Effect(loses=("L2",)), "fixes": ()}))[0].startswith("To serve it all the same: ")
    other = Alternative(why="cheaper", over=("F1",), ends=(END, END), unknown=("reach of LX-I",))
    assert wording.alternative_text(other).endswith("it would rest on what nobody states: reach of LX-I.")


def test_enclosure_that_would_have_to_be_colder_than_its_winter_is_not_proposed() -> None:
    assert "enclosure" not in kinds(site(fiber("OS2", 800), [LX | {"temperature_c": [-40, 0]}], gate_site={"ambient_c": [-10, 40]}))


def test_policy_of_all_defaults_is_a_policy() -> None:
    network, catalog, _ = SCENES["too little light"]()
    assert explain(network, catalog, "L1").text == explain(network, catalog, "L1", Policy()).text
