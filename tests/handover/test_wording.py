"""A plan in words: what is proven, and what is not."""

from __future__ import annotations

from optiselect.handover.wording import fitted_text, objective_line, plan_text, status_line, tally_text, unserved_text
from optiselect.model.plan import ObjectiveValue, PlannedEnd
from tests.handover.pier import end, plan


def test_status_names_who_proved_it_and_who_confirmed_it() -> None:
    proof = {"by": ("CP-SAT",), "confirmed": True, "confirmed_by": ("HiGHS",)}

    assert status_line(plan(proof=proof)) == "1 of 2 links served; proven best on every objective by CP-SAT, confirmed by HiGHS."


def test_status_of_a_plan_cut_by_the_clock_promises_nothing() -> None:
    assert status_line(plan(status="feasible", reproducible=False)) == (
        "1 of 2 links served; good, but not proven best on every objective; cut short by the clock or by hand, so a second run may give another plan."
    )


def test_objective_that_is_not_proven_shows_what_is_still_possible() -> None:
    assert objective_line(ObjectiveValue(name="cost", value=71.5, bound=60.0), "EUR") == "cost: 71.50 EUR (best still possible: 60.00 EUR)"


def test_objective_that_is_proven_shows_its_value_only() -> None:
    assert objective_line(ObjectiveValue(name="part_numbers", value=4.0, bound=4.0), "EUR") == "part numbers: 4"


def test_fitted_parts_are_told_from_the_device_to_the_cable() -> None:
    fitted = end("cam", "up", converter="LAN-MC", attenuator="LAN-ATT", cord="LAN-CORD")

    assert fitted_text(PlannedEnd(**fitted)) == "LAN-MC + LAN-LX + LAN-ATT + LAN-CORD"


def test_fixed_optic_is_told_with_its_cord() -> None:
    assert fitted_text(PlannedEnd(device="cam", port="up", fitting="fixed", cord="LAN-CORD")) == "fixed optic + LAN-CORD"


def test_refusal_without_a_text_still_tells_which_rules_stop_it() -> None:
    refusal = plan().unserved[0].model_copy(update={"text": ""})

    assert tally_text(refusal) == "7 candidates; stopped by rate 5, core 2"
    assert unserved_text(plan(unserved=(refusal,))) == "L2 (impossible)\n7 candidates; stopped by rate 5, core 2"


def test_plan_text_has_no_section_for_what_is_not_there() -> None:
    text = plan_text(plan(unserved=(), notes=()))

    assert "Not served" not in text
    assert "Notes" not in text
