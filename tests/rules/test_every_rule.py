"""Every rule by itself: its examples, its sentence, its source."""

import re

import pytest

from optiselect.model.terms import RULE_IDS, WAIVABLE
from optiselect.rules import ALL_RULES, END_RULES, NETWORK_RULES, PAIR_RULES, PATH_RULES, RULE_BY_ID
from optiselect.rules.examples import example
from optiselect.rules.rule import Rule
from tests.rules.fitting import UNITS, all_breaches

each_rule = pytest.mark.parametrize("rule", ALL_RULES, ids=lambda rule: rule.id)
LOCATOR = re.compile(r"Clauses? \d|Tables? [\d-]+|power levels? I|classe?s? 1|\b\d\d\.\d+\.\d|INF-8074|diagnostics|common practice, no source|from memory")


def shown(value: object) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def test_the_rules_are_those_of_the_table_in_its_order() -> None:
    assert tuple(rule.id for rule in ALL_RULES) == RULE_IDS


def test_every_rule_is_found_by_its_scope_and_by_its_id() -> None:
    assert sorted(rule.id for rule in (*END_RULES, *PAIR_RULES, *PATH_RULES, *NETWORK_RULES)) == sorted(RULE_IDS)
    assert [RULE_BY_ID[rule_id].id for rule_id in RULE_IDS] == list(RULE_IDS)


def test_what_a_person_may_answer_for_are_rules() -> None:
    assert set(WAIVABLE) < set(RULE_BY_ID)


def test_the_example_network_breaks_no_rule() -> None:
    assert all_breaches(example()) == []


@each_rule
def test_its_holding_example_breaks_no_rule(rule: Rule) -> None:
    assert all_breaches(example(rule.holds)) == []


@each_rule
def test_its_breaking_example_breaks_it_and_no_other(rule: Rule) -> None:
    found = all_breaches(example(rule.breaks))
    assert {breach.rule for breach in found} == {rule.id}
    assert not any(breach.unknown for breach in found)


@each_rule
def test_its_sentence_names_the_place_and_both_sides(rule: Rule) -> None:
    for breach in all_breaches(example(rule.breaks)):
        sentence = rule.sentence(breach)
        assert {part for part in (breach.path, shown(breach.required), shown(breach.available)) if part not in sentence} == set()


@each_rule
def test_its_figures_have_their_unit(rule: Rule) -> None:
    assert {breach.unit for breach in all_breaches(example(rule.breaks))} == {UNITS.get(rule.id, "")}


@each_rule
def test_its_sentence_is_one_line_without_anything_internal(rule: Rule) -> None:
    text = " ".join(rule.sentence(breach) for breach in all_breaches(example(rule.breaks)))
    assert re.search(r"None|[{}<>\n]|\bnan\b|\binf\b", text) is None


@each_rule
def test_it_has_a_source_with_a_locator_or_says_that_it_has_none(rule: Rule) -> None:
    assert LOCATOR.search(rule.source)


@each_rule
def test_it_says_what_it_asks_and_why(rule: Rule) -> None:
    assert rule.statement.endswith(".")
    assert rule.why.endswith(".")


MISSING = {
    "a module's temperature range": ({"modules.DEMO-LX10.temperature_c": None}, "temperature", "the temperature range of DEMO-LX10"),
    "a converter's temperature range": ({"converters.DEMO-MC.temperature_c": None}, "temperature", "the temperature range of DEMO-MC"),
    "a site's climate": ({"sites.berth.ambient_c": None}, "temperature", "the ambient range of site berth"),
    "a device's site": ({"devices.gate.site": None}, "temperature", "the site of gate"),
    "a module's power": ({"modules.DEMO-LX10.power_w": None}, "cage-power", "the power of DEMO-LX10"),
    "a form": ({"modules.DEMO-LX10.form": None}, "form", "the form of DEMO-LX10"),
    "a connector": ({"modules.DEMO-LX10.connector": None}, "connector", "the connector of DEMO-LX10"),
    "a copper reach": ({"modules.DEMO-PAIR-NEAR.reach_m": None}, "copper-reach", "the published reach of DEMO-PAIR-NEAR"),
    "a cable category": ({"runs.C2.copper.category": "twisted-pair"}, "copper-reach", "the category of the cable of C2"),
    "an attenuation": (
        {"modules.DEMO-LX10.tx_nm": [1630, 1650], "modules.DEMO-LX10.rx_nm": [1630, 1650]},
        "light-budget",
        "the attenuation of F1 at 1630-1650 nm",
    ),
    "what a run presents": (
        {
            "runs.F4.fiber.connectors": None,
            "fitted.L4.0.module": "DEMO-LX",
            "fitted.L4.1.module": "DEMO-LX",
            "fitted.L4.0.cord": None,
            "fitted.L4.1.cord": None,
        },
        "mode-conditioning",
        "what F4 presents at its ends",
    ),
}


@pytest.mark.parametrize(("changes", "rule_id", "datum"), MISSING.values(), ids=MISSING)
def test_a_missing_figure_is_named_and_never_passes(changes: dict[str, object], rule_id: str, datum: str) -> None:
    found = all_breaches(example(changes))
    assert {(breach.rule, breach.unknown, breach.available) for breach in found} == {(rule_id, True, datum)}
    assert RULE_BY_ID[rule_id].sentence(found[0]) == f"{found[0].path}: {datum} is not stated, so this cannot be checked"


def test_copper_of_a_device_without_a_site_may_leave_the_building() -> None:
    found = all_breaches(example({"devices.desk.site": None}))
    assert ("earthing", "core/2 to desk/2", "the site of a place along C2") in {
        (breach.rule, breach.path, breach.available) for breach in found if breach.unknown
    }


def test_a_fixed_optic_is_asked_for_its_temperature_only_where_it_states_one() -> None:
    hot = {"devices.gate.ports.6.optic": {"standard": "100BASE-LX10", "connector": "SC", "temperature_c": [0, 60]}}
    sentences = [RULE_BY_ID[breach.rule].sentence(breach) for breach in all_breaches(example(hot))]
    assert sentences == [
        "gate/6: with air of 50 C and 15 C of rise the case reaches 65 C, and the fixed optic bears 60 C",
        "gate/6: a cold start is at -25 C, and the fixed optic starts from 0 C",
    ]


def test_change_of_a_place_that_the_example_has_not_is_refused() -> None:
    with pytest.raises(KeyError, match="F9"):
        example({"runs.F9.routes": ["duct"]})
