"""How facts become words: counts with their unit, names that are many, and the predicates of a site."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from optiselect.model.policy import Policy
from optiselect.rules import RULE_BY_ID
from optiselect.rules.fitted import FittedLink
from optiselect.rules.rule import Breach, counted, listed
from tests.rules.fitting import breaches, built_to, copper, fiber, link, sentences, told

LX10 = built_to("1000BASE-LX10")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        *((1, f"{thing}s", f"1 {thing}") for thing in ("strand", "link", "unit", "port")),
        *((2, f"{thing}s", f"2 {thing}s") for thing in ("strand", "link", "unit", "port")),
        (1.0, "W", "1 W"),
        (1, "ps", "1 ps"),
        (1.5, "strands", "1.5 strands"),
    ],
)
def test_one_is_in_the_singular(value: float, unit: str, text: str) -> None:
    assert counted(value, unit) == text


@pytest.mark.parametrize(("count", "text"), [(1, "a"), (2, "a, b"), (4, "a, b, c, d"), (5, "a, b and 3 others"), (6, "a, b and 4 others")])
def test_of_more_than_four_names_two_are_said(count: int, text: str) -> None:
    assert listed("abcdef"[:count], "others") == text


def test_path_of_many_runs_is_told_by_the_first_of_them() -> None:
    assert sentences("reach", link(LX10, LX10, *(fiber(2500) for _ in range(5))))[0] == (
        "core/1: R1, R2 and 3 other runs are 12500 m long, and 1000BASE-LX10 module reaches 10000 m on OS2"
    )


def test_what_is_not_there_is_nothing() -> None:
    assert (
        RULE_BY_ID["form"].sentence(Breach("form", "core/1", "SFP", None, facts={"part": "what is planned"}))
        == "core/1 takes SFP, and what is planned is nothing"
    )


def never(_: FittedLink, *, told: bool = False) -> bool:
    return told


def test_predicate_without_a_name_is_told_by_its_place() -> None:
    asked = link(LX10, LX10, fiber(10), policy=Policy(rules=(partial(never, told=True), partial(never), never)))
    assert [(breach.required, breach.facts["name"]) for breach in breaches("own-rule", asked)] == [("rules[1]", "rules[1]"), ("never", "never")]


def test_copper_of_which_no_place_is_known_is_asked_for_along_all_its_runs() -> None:
    frugal = Policy(copper_between_buildings=False)
    joined = link(None, None, copper(10, "Cat6"), copper(10, "Cat6"), policy=frugal)
    (breach,) = breaches("earthing", joined)
    assert (breach.required, breach.facts["zones"], breach.facts["runs"]) == ("one building", joined.path.zones, ("R1", "R2"))
    unplaced = replace(joined, asked=replace(joined.asked, path=replace(joined.path, sites=(None, None, None))))
    assert told("earthing", unplaced) == [("core/1 to gate/1", "one building", "the site of a place along R1, R2", True)]
