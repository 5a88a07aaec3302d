"""What is told of links that are not served, and of some that are: whole texts, each read by a person; their words and their size."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from optiselect import Plan, explain, solve
from optiselect.demo import demo_catalog, demo_network, demo_policy
from optiselect.model.plan import Refusal
from tests.explain.scenes import SCENES
from tests.explain.write_texts import DEMO, TEXTS, demo_plan

KEPT: dict[str, str] = yaml.safe_load(TEXTS.read_text(encoding="utf-8"))
INTERNAL = re.compile(
    r"infeasib|constraint|variable|solver|objective|CP-SAT|python|(?-i:None)|\bnan\b|\binf\b|[{}<>]|bitmask|family|hitting|mask\b|candidate|"
    r"\bdict\b|\btuple\b|Breach|EndKind|Ground|_db\b|_dbm\b|_nm\b|lexicographic|presolve|model_|TO-ASK-FOR",
    re.IGNORECASE,
)


@pytest.mark.parametrize("name", SCENES)
def test_text_of_a_scene_is_the_one_that_was_read(name: str) -> None:
    assert "\n\n".join(refusal.text for refusal in solve(*SCENES[name]()).unserved) == KEPT[name]


@pytest.fixture(scope="module")
def plan() -> Plan:
    return demo_plan()


def test_texts_of_the_demo_are_those_that_were_read(plan: Plan) -> None:
    assert {f"demo: {refusal.id}": refusal.text for refusal in plan.unserved} == {name: text for name, text in KEPT.items() if name.startswith("demo: ")}


@pytest.mark.parametrize("link", DEMO)
def test_a_served_link_says_why_it_has_nothing_else(link: str) -> None:
    assert explain(demo_network(), demo_catalog(), link, demo_policy()).text == KEPT[f"demo, served: {link}"]


def test_every_text_that_was_read_is_still_told() -> None:
    assert set(KEPT) == {*SCENES, *(f"demo: {refusal.id}" for refusal in demo_plan().unserved), *(f"demo, served: {link}" for link in DEMO)}


EACH = {f"{name} {number}": text for name, several in KEPT.items() for number, text in enumerate(several.split("\n\n"))}
each_text = pytest.mark.parametrize("text", EACH.values(), ids=EACH)


@each_text
def test_a_text_is_at_most_12_lines_of_100_characters(text: str) -> None:
    lines = text.splitlines()
    assert (len(lines) <= 12, max(map(len, lines)) <= 100) == (True, True)


@each_text
def test_a_text_names_nothing_of_the_inside(text: str) -> None:
    assert INTERNAL.search(text) is None


def test_at_least_thirty_texts_of_both_kinds_cover_the_rules() -> None:
    told = " ".join(KEPT.values())
    kinds = [kind for kind in ("cannot be served, even with", "could be served alone", "runs at") if kind in told]
    assert len(KEPT) >= 30
    assert len(kinds) == 3
    assert len(set(re.findall(r"\[([a-z-]+)\]$", told.replace("\n", " \n"), re.MULTILINE)) | set(re.findall(r"\[([a-z-]+)\]", told))) >= 24


def _facts(refusal: Refusal) -> str:
    return refusal.model_dump_json(by_alias=True, exclude={"text"})


def test_a_text_has_no_figure_that_is_not_in_its_facts(plan: Plan) -> None:
    """Numbers of the text, the ordinals and the count of lines apart, stand in the facts; a figure may be rounded for the eye."""
    for refusal in plan.unserved:
        body = re.sub(r"(?m)^  (\d\.|[abc]\.)", "", refusal.text).replace(",", "")
        facts = _facts(refusal).replace(",", " ")
        missing = [figure for figure in re.findall(r"\d+\.\d+", body) if figure.rstrip("0").rstrip(".") not in facts]
        assert missing == []


def test_the_text_in_the_readme_is_what_the_demo_gives() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"<!-- refusal:.*?-->\n```text\n(.*?)\n```", readme, re.DOTALL)
    given = {refusal.id: refusal.text for refusal in solve(demo_network(), demo_catalog()).unserved}
    assert shown is not None and shown.group(1) == given["outer-light"]
