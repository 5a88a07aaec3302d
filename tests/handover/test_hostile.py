"""Names that are out to do harm, in every id and every text field: in every form of every paper they are shown and do nothing."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from optiselect import Catalog, Network, solve
from optiselect.handover.hand_over import HandedOver, hand_over
from optiselect.model.plan import Plan

NAMES = {
    "formula": "=1+1",
    "plus": "+cmd|' '!A0",
    "script": "<script>window.hit=1<\\script><img src=x onerror=window.hit=1>",
    "attribute": '" onmouseover="window.hit=1" x=\'',
    "template": "{{ 7*7 }}{% raw %}",
    "up": "..\\..\\x",
    "long": "x" * 10_000,
    "right to left": "\u202e\u05e9\u05dc\u05d5\u05dd\u202c \u0645\u0631\u062d\u0628\u0627",
    "control": "a\x00b\x1b[31mc\u2028d",
    "mathematics": "$\\frac{1}{0}$",
    "closing": "]]></style></title>--><!--".replace("/", "\u2215"),
}
"""As ids; an id holds no slash."""
TEXTS = {**NAMES, "up": "../../x", "script": "<script>window.hit=1</script>"}
_TAGS = set(
    re.findall(
        r"\w+",
        "html head meta link title style body a header h1 p nav ul li main section h2 dl dt dd h3 figure table caption thead tr th tbody td tfoot div "
        "label input output footer script svg desc defs pattern rect g path text circle line b span i",
    )
)


def hostile_documents(name: str, text: str) -> tuple[Network, Catalog]:
    def end(side: str) -> dict[str, Any]:
        ports = [{"id": name + side, "kind": "cage", "form": "SFP", "rates": ["1G"]}, {"id": name + side + "c", "kind": "copper", "rates": ["1G"]}]
        return {"id": name + side, "name": text, "site": name + side, "accepts": [name], "ports": ports}

    fiber = {"grade": "OS2", "length_m": 400, "strands": 4, "connectors": ["LC", "SC"]}
    network = Network(
        name=text,
        sites=[{"id": name + side, "name": text, "building": name + side, "ambient_c": [0, 40]} for side in "ab"],
        devices=[end("a"), end("b")],
        panels=[{"id": name + "p", "name": text, "site": name + "a"}],
        runs=[
            {"id": name + "1", "name": text, "ends": [name + "a", name + "p"], "routes": [name], "fiber": fiber | {"connectors": ["SC", "LC"]}},
            {"id": name + "2", "name": text, "ends": [name + "p", name + "b"], "routes": [name], "fiber": fiber},
            {"id": name + "3", "name": text, "ends": [name + "a", name + "b"], "copper": {"category": "Cat6", "length_m": 5}},
        ],
        links=[
            {"id": name + "l", "name": text, "ends": [name + "a", name + "b"], "over": [name + "1", name + "2"]},
            {"id": name + "m", "name": text, "ends": [name + "a", name + "b"], "over": [name + "3"]},
        ],
        installed={f"{name}a/{name}a": name + "0"},
    )
    bought = {"supplier": text, "description": text, "price": 1.5, "lead_time_days": 3}
    modules = [{"part": name + str(place), "standard": "1000BASE-LX10", "form": "SFP", "connector": "LC", "coding": [name], **bought} for place in (0, 1)]
    cords = [{"part": name + "k", "grade": "OS2", "connectors": ["LC", "SC"], "strands": 2, **bought}]
    return network, Catalog(name=text, currency=text[:20], modules=modules, cords=cords)


@pytest.fixture(scope="module", params=NAMES)
def papers(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, HandedOver, Plan]:
    network, catalog = hostile_documents(NAMES[request.param], TEXTS[request.param])
    plan = solve(network, catalog)
    outside = tmp_path_factory.mktemp("hostile")
    return outside, hand_over(plan, outside / "papers", network, catalog), plan


def test_one_link_is_served_and_one_refused(papers: tuple[Path, HandedOver, Plan]) -> None:
    """Copper between two buildings is refused, so that refusals show hostile names as well."""
    assert (len(papers[2].links), len(papers[2].unserved)) == (1, 1)


def test_nothing_is_written_but_the_papers(papers: tuple[Path, HandedOver, Plan]) -> None:
    outside, written, _ = papers

    assert {path for path in outside.rglob("*") if path.is_file()} == set(written.files)
    assert {path.name for path in outside.iterdir()} == {"papers"}


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}


@pytest.mark.parametrize("page", ["handover.html", "labels.html"])
def test_pages_hold_our_tags_our_script_and_no_handler(page: str, papers: tuple[Path, HandedOver, Plan]) -> None:
    read = _Page()
    read.feed((papers[0] / "papers" / page).read_text(encoding="utf-8"))

    assert set(read.tags) <= _TAGS
    assert read.tags.count("script") == (1 if page == "handover.html" else 0)
    assert not any(name.startswith("on") for name in read.attributes)


@pytest.mark.parametrize("picture", ["map.svg", "margins.svg"])
def test_pictures_are_well_formed_and_draw_shapes_and_text_only(picture: str, papers: tuple[Path, HandedOver, Plan]) -> None:
    drawn = ElementTree.fromstring((papers[0] / "papers" / picture).read_text(encoding="utf-8"))

    assert {part.tag.partition("}")[2] for part in drawn.iter()} <= {"svg", "title", "desc", "defs", "pattern", "rect", "g", "path", "text", "circle", "line"}


@pytest.fixture
def long_cells() -> Iterator[None]:
    """A cell may name many links, each of 10,000 characters; the csv module reads 131,072 unless told."""
    before = csv.field_size_limit(10_000_000)
    yield
    csv.field_size_limit(before)


@pytest.mark.usefixtures("long_cells")
def test_no_cell_of_a_csv_is_a_formula(papers: tuple[Path, HandedOver, Plan]) -> None:
    for path in (papers[0] / "papers" / "tables").iterdir():
        cells = [cell for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"), newline="")) for cell in row]

        assert [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r")) or re.match(r"-(?![\d.])", cell)] == []


def test_no_cell_of_the_workbook_is_a_formula_or_a_link(papers: tuple[Path, HandedOver, Plan]) -> None:
    with zipfile.ZipFile(papers[0] / "papers" / "handover.xlsx") as archive:
        parts = {name: archive.read(name).decode("utf-8") for name in archive.namelist()}

    assert not any("<f>" in part or "<f " in part or "hyperlink" in part for name, part in parts.items() if name.startswith("xl/worksheets/sheet"))
    assert all(ElementTree.fromstring(part) is not None for part in parts.values())


def test_json_and_plan_read_back(papers: tuple[Path, HandedOver, Plan]) -> None:
    told = json.loads((papers[0] / "papers" / "handover.json").read_text(encoding="utf-8"))

    assert told["papers"]["bill"]["rows"][0][0] == papers[2].parts[0].part
    assert Plan.load(papers[0] / "papers" / "plan.json") == papers[2]


def test_texts_hold_nothing_that_steers_a_terminal_or_turns_what_follows(papers: tuple[Path, HandedOver, Plan]) -> None:
    pages = "".join((papers[0] / "papers" / name).read_text(encoding="utf-8") for name in ("handover.html", "labels.html", "map.svg", "margins.svg"))

    assert not {"\x00", "\x1b", "\u202e", "\u2028"} & set(pages)
