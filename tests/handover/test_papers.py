"""Bill, spares, cautions and open questions: totals and arithmetic derived anew, and nothing that is uncertain left unsaid."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from scipy import stats

from optiselect import Catalog, Policy, check
from optiselect.demo import demo_catalog
from optiselect.handover.alternatives import alternatives
from optiselect.handover.dossier import Dossier
from optiselect.handover.papers import paper
from tests.handover.causeway import causeway
from tests.handover.pier import CATALOG, NETWORK, plan


def _questions(of: Dossier, kind: str) -> dict[str, tuple[Any, Any]]:
    return {str(row["question"]): (row["where"], row["to_do"]) for row in paper(of, "questions").records() if row["kind"] == kind}


def test_used_units_are_those_that_the_plan_fits_everywhere(terminal: Dossier) -> None:
    fitted: Counter[str] = Counter()
    for link in terminal.plan.links:
        for end in link.ends:
            fitted.update(part for part in (end.module, end.converter, end.cord, end.attenuator) if part)

    assert dict(zip(paper(terminal, "bill").column("part"), paper(terminal, "bill").column("used"), strict=True)) == fitted


def test_total_is_what_the_catalog_charges_for_what_is_ordered(terminal: Dossier) -> None:
    prices = {
        item.part: item.price
        for items in (terminal.catalog.modules, terminal.catalog.converters, terminal.catalog.cords, terminal.catalog.attenuators)
        for item in items
    }
    bill = paper(terminal, "bill")
    charged = sum(int(row["order"] or 0) * (prices[str(row["part"])] or 0.0) for row in bill.records())

    assert round(charged, 2) == bill.totals["total"] == next(value.value for value in terminal.plan.objective if value.name == "cost")


def test_links_that_use_a_part_are_those_that_have_it(terminal: Dossier) -> None:
    for row in paper(terminal, "bill").records():
        users = [link.id for link in terminal.plan.links if any(row["part"] in (end.module, end.converter, end.cord, end.attenuator) for end in link.ends)]

        assert str(row["links"]).split(", ") == users


def test_alternatives_pass_the_audit_in_the_place_of_the_part(terminal: Dossier) -> None:
    """Each is put into the plan by name, and the plan is audited from the documents alone."""
    before = {(finding.rule, finding.link) for finding in check(terminal.network, terminal.catalog, terminal.plan, terminal.policy)}
    tried = 0
    for line in terminal.plan.parts:
        for other in alternatives(terminal, line):
            swapped = terminal.plan.model_validate_json(terminal.plan.model_dump_json(by_alias=True).replace(f'"{line.part}"', f'"{other.part}"'))
            found = check(terminal.network, terminal.catalog, swapped, terminal.policy)
            tried += 1

            assert {(finding.rule, finding.link) for finding in found} <= before
    assert tried > 5


def test_a_dearer_grade_of_the_same_interface_is_among_the_alternatives() -> None:
    line = next(line for line in plan().parts if line.part == "LAN-LX")
    dear = Catalog(**{**CATALOG.stated(), "modules": [*CATALOG.stated()["modules"], {**CATALOG.stated()["modules"][0], "part": "LAN-LX-I", "price": 60.0}]})

    assert [item.part for item in alternatives(Dossier(plan(), NETWORK, dear, Policy()), line)] == ["LAN-LX-I"]


def test_spares_reach_their_level_and_one_less_would_not(terminal: Dossier) -> None:
    """By the Poisson distribution of another library."""
    for row in paper(terminal, "spares").records():
        mean = float(row["used"] or 0) * float(row["fit"] or 0) * 1e-9 * 45 * 24

        assert row["failures_expected"] == pytest.approx(mean, abs=1e-9)
        assert row["covered"] == pytest.approx(stats.poisson.cdf(row["spares"], mean), abs=1e-9)
        assert stats.poisson.cdf(int(row["spares"] or 0) - 1, mean) < 0.998 <= stats.poisson.cdf(row["spares"], mean)


def test_arithmetic_of_the_spares_is_written_out(terminal: Dossier) -> None:
    row = next(row for row in paper(terminal, "spares").records() if row["part"] == "BW-10SR-C")

    assert row["arithmetic"] == ("m = 8 x 250 x 1e-9 x 1080 h = 0.002160; P(failures <= 1) = 0.999998, asked 0.998; with 0 only 0.997842")


def test_without_a_level_the_spares_list_says_that_none_was_asked() -> None:
    sheet = plan().paper("spares", NETWORK, CATALOG)

    assert "asks for no spares" in " ".join(sheet.about)
    assert {row["covered"] for row in sheet.records()} == {None}


def test_cautions_of_links_and_of_the_plan_come_before_the_general_ones(terminal: Dossier) -> None:
    rows = paper(terminal, "cautions").records()
    said = [str(row["caution"]) for row in rows]

    assert rows[0]["from"] == "this plan"
    assert any("surge protection at both ends" in caution for caution in said)
    assert [caution.partition(":")[0] for caution in said if "laser" in caution.lower()] == [
        "Invisible laser light",
        "Laser class per IEC 60825-1; the hazard of the installed system per IEC 60825-2.",
    ]


def test_assumed_figures_are_told_once_with_every_run_that_they_are_about(terminal: Dossier) -> None:
    where, to_do = _questions(terminal, "assumed")["presents flat polish"]

    assert where == "M1, M2, M3, M5, M6, M7, M8"
    assert "confirm on site" in to_do


def test_every_note_of_every_link_is_among_the_questions_or_the_cautions(terminal: Dossier) -> None:
    said = [f"{row['question']} {row['where']}" for row in paper(terminal, "questions").records()]
    lost = []
    for link in terminal.plan.links:
        for note in link.notes:
            text = note.partition(": ")[2]
            rest = text.partition(" ")[2]
            lost += [note] if not note.startswith("caution") and not any(text in row or rest in row for row in said) else []

    assert lost == []


@pytest.mark.parametrize(("stated", "asked"), [({}, True), ({"design_margin_db": 3.0}, False)])
def test_a_default_of_the_policy_is_a_question_until_it_is_decided(stated: dict[str, float], asked: bool) -> None:
    of = Dossier(plan(), NETWORK, CATALOG, Policy(**stated))

    assert any("design margin" in question for question in _questions(of, "default")) is asked


@pytest.mark.parametrize(
    "question",
    [
        "1000BASE-LX10: sensitivity and overload",
        "1000BASE-LX10: launch power (9)",
        "OS2, 1260-1340 nm: least plausible attenuation (for overload)",
        "QSFP+ cage: power that it gives a module",
    ],
)
def test_figures_from_memory_or_judgment_that_the_answer_leaned_on_are_named(question: str) -> None:
    assert question in _questions(causeway(), "weak source")


def test_a_figure_that_the_data_sheet_states_is_no_question(terminal: Dossier) -> None:
    """The demo's 10GBASE-BR10 parts state their own powers."""
    asked = [question for question in _questions(terminal, "weak source") if question.startswith("10GBASE-BR10")]

    assert {question.partition(": ")[2] for question in asked}.isdisjoint({"launch power", "sensitivity and overload", "link penalty"})
    assert demo_catalog().module_by_part["BW-10BRD-I"].tx_dbm is not None


def test_what_the_papers_add_and_have_from_nobody_is_said() -> None:
    asked = _questions(causeway(), "papers")

    assert asked["12 strands a tube (common practice, no source)"][0] == "A"
    assert asked["runs meet in one adapter at panels, without a cord between"][0] == "frame"
    assert "which strands are in use: taken to be those of the lowest numbers" in asked
    assert "length of the cords" in asked
