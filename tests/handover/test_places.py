"""A large estate by place: nothing is lost or out of order, and what can hurt is said on every page on which somebody could meet it."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from optiselect.handover import places, report
from optiselect.handover.cautions import CAUTIONS, all_cautions
from optiselect.handover.dossier import Dossier
from optiselect.handover.hand_over import HandedOver, hand_over
from optiselect.handover.papers import PAPERS
from optiselect.handover.places import LARGE, PlacePage, is_large, long_papers, place_pages
from optiselect.handover.report import place_page
from optiselect.handover.sheet import Sheet
from optiselect.model.plan import Plan
from tests.handover.test_hostile import NAMES, TEXTS, hostile_documents


@pytest.fixture(scope="module")
def small() -> Iterator[None]:
    """The terminal counts as large, and a page holds little of it."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(places, "LARGE", 20)
        patched.setattr(places, "MOST_ROWS", 90)
        yield


@pytest.fixture(scope="module")
def sheets(terminal: Dossier) -> dict[str, Sheet]:
    return {name: draw(terminal) for name, draw in PAPERS.items()}


@pytest.fixture(scope="module")
def pages(small: None, terminal: Dossier, sheets: dict[str, Sheet]) -> tuple[PlacePage, ...]:
    return place_pages(terminal, sheets)


@pytest.fixture(scope="module")
def folder(small: None, terminal: Dossier, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("large")


@pytest.fixture(scope="module")
def written(folder: Path, terminal: Dossier) -> HandedOver:
    return hand_over(terminal.plan, folder, terminal.network, terminal.catalog, terminal.policy)


def _changed_by_hand(plan: Plan) -> Plan:
    links = [link.model_dump(by_alias=True) for link in plan.links]
    place = next(index for index, link in enumerate(links) if link["id"] == "ring-1")
    links[place]["ends"][0]["module"] = links[place]["ends"][1]["module"]  # two of one kind never hear each other
    return Plan(**{**plan.model_dump(by_alias=True), "links": links})


def _sheet(page: PlacePage, name: str) -> Sheet:
    return next(sheet for sheet in page.sheets if sheet.name == name)


@pytest.mark.parametrize("name", ["ports", "cords", "limits", "labels"])
def test_every_row_stands_on_one_page(name: str, pages: tuple[PlacePage, ...], sheets: dict[str, Sheet]) -> None:
    rows = [row for page in pages for row in _sheet(page, name).rows]

    assert len(pages) > 3
    assert sorted(map(repr, rows)) == sorted(map(repr, sheets[name].rows))


def test_strands_stand_on_the_pages_of_both_ends(pages: tuple[PlacePage, ...], sheets: dict[str, Sheet]) -> None:
    for page in pages:
        here = set(page.nodes)

        assert _sheet(page, "strands").rows == tuple(row for row in sheets["strands"].rows if here & {row[1], row[2]})


@pytest.mark.parametrize("name", ["ports", "cords", "strands", "limits", "labels"])
def test_rows_of_a_page_keep_their_order(name: str, pages: tuple[PlacePage, ...], sheets: dict[str, Sheet]) -> None:
    place = {row: number for number, row in enumerate(sheets[name].rows)}

    assert all([place[row] for row in _sheet(page, name).rows] == sorted(place[row] for row in _sheet(page, name).rows) for page in pages)


def test_light_at_every_receiver_stands_on_the_page_of_its_device(pages: tuple[PlacePage, ...], terminal: Dossier) -> None:
    assert sorted((bar.name, bar.ends) for page in pages for bar in page.bars) == sorted((bar.name, bar.ends) for bar in terminal.bars)
    assert all(bar.ends[1].partition("/")[0] in page.nodes for page in pages for bar in page.bars)


def test_a_building_that_fits_a_page_is_on_one(pages: tuple[PlacePage, ...], sheets: dict[str, Sheet]) -> None:
    several = [page for page in pages if len(page.nodes) > 1]
    zones = [zone for page in several for zone in page.zones]

    assert all(sum(len(sheet.rows) for sheet in page.sheets) <= 90 for page in several)
    assert len([zone for page in pages for zone in page.zones]) > len(set(zones)) or len(zones) == len(set(zones))


def test_an_estate_of_usual_size_is_one_page(written: HandedOver, sheets: dict[str, Sheet], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "LARGE", LARGE)

    assert not is_large(sheets)


def test_first_page_leads_to_a_page_of_every_place_and_of_every_link(written: HandedOver, folder: Path, terminal: Dossier) -> None:
    page = (folder / "handover.html").read_text(encoding="utf-8")
    asked = set(re.findall(r'href="(pages/[^"]+)"', page))
    rows = re.findall(r'<tr><th scope="row">([^<]+)</th>(.*?)</tr>', page[page.index('id="links"') : page.index('id="bill"')])

    assert asked == {path.relative_to(folder).as_posix() for path in (folder / "pages").iterdir()}
    assert [unescape(link) for link, _ in rows] == [link.id for link in terminal.plan.links]
    assert all(row.count('<a href="pages/') == 2 for _, row in rows)


def test_first_page_keeps_what_is_about_the_whole_plan(written: HandedOver, folder: Path) -> None:
    page = (folder / "handover.html").read_text(encoding="utf-8")

    assert re.findall(r'<section class="paper[^"]*" id="([a-z]+)"', page) == ["places", "links", *(name for name in PAPERS if name not in long_papers())]
    assert 'href="map.svg"' in page
    assert 'href="margins.svg"' in page


def test_pages_lead_to_each_other(written: HandedOver, folder: Path) -> None:
    names = sorted(path.name for path in (folder / "pages").iterdir())
    after = [re.findall(r'href="([^"]+)" rel="next"', (folder / "pages" / name).read_text(encoding="utf-8")) for name in names]

    assert after == [*([name] for name in names[1:]), []]


def test_a_page_of_many_places_is_headed_by_the_first_and_the_last(pages: tuple[PlacePage, ...], terminal: Dossier, monkeypatch: pytest.MonkeyPatch) -> None:
    several = next(page for page in pages if len(page.zones) > 1)
    named = place_page(terminal, pages, several.number)
    monkeypatch.setattr(report, "_MOST_NAMED", 1)
    counted = place_page(terminal, pages, several.number)

    assert f'<p dir="auto">{", ".join(several.zones)}</p>' in named
    assert f'<p dir="auto">{several.zones[0]} to {several.zones[-1]}: {len(several.zones)} places</p>' in counted


def test_every_page_says_what_can_hurt_before_anything_else(written: HandedOver, folder: Path) -> None:
    for path in (folder / "pages").iterdir():
        page = unescape(path.read_text(encoding="utf-8"))

        assert all(page.index(caution) < page.index('data-table aria-labelledby="ports-h"') for _, caution in CAUTIONS)
        assert page.count("never look into a port or a fiber end. Treat every fiber as live.") == 1  # at its foot


def test_cautions_of_a_link_stand_on_the_first_page_and_wherever_it_ends_or_passes(pages: tuple[PlacePage, ...], terminal: Dossier) -> None:
    noted = tuple(link.model_copy(update={"notes": (*link.notes, "caution: 5 dB above damage without its attenuator")}) for link in terminal.plan.links)
    of = replace(terminal, plan=terminal.plan.model_copy(update={"links": noted}))
    sentences = {link.id: f"{link.id}: 5 dB above damage without its attenuator" for link in noted}

    assert set(sentences.values()) < set(all_cautions(of))
    for page in pages:
        ends = {link.id for link in noted for end in link.ends if end.device in page.nodes}
        told = {link for link, sentence in sentences.items() if sentence in all_cautions(of, page.links)}

        assert ends <= told == set(page.links)


def test_a_rule_that_a_changed_plan_breaks_is_told_on_the_pages_of_its_link(small: None, terminal: Dossier, tmp_path: Path) -> None:
    changed = _changed_by_hand(terminal.plan)
    hand_over(changed, tmp_path, terminal.network, terminal.catalog, terminal.policy)
    ends = {end.device for link in changed.links if link.id == "ring-1" for end in link.ends}
    pages = {path: path.read_text(encoding="utf-8") for path in (tmp_path / "pages").iterdir()}
    telling = [page for page in pages.values() if "ring-1: do not build this link" in page]

    assert "ring-1: do not build this link" in (tmp_path / "handover.html").read_text(encoding="utf-8")
    assert telling == [page for page in pages.values() if "ring-1</td>" in page]
    assert all(any(f'<tr><th scope="row">{end}</th>' in page for page in telling) for end in ends)


def test_links_that_are_not_served_are_told_where_they_were_to_end(written: HandedOver, folder: Path, terminal: Dossier, pages: tuple[PlacePage, ...]) -> None:
    wanted = {link.id: set(link.devices) for link in terminal.network.wanted}

    assert terminal.plan.unserved
    for refusal in terminal.plan.unserved:
        told = [f"{refusal.id} ({refusal.kind})</h3>" in (folder / "pages" / page.file).read_text(encoding="utf-8") for page in pages]

        assert told == [bool(wanted[refusal.id] & set(page.nodes)) for page in pages]


def test_pages_of_an_earlier_plan_are_removed_and_nothing_else(small: None, terminal: Dossier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    papers = terminal.plan, tmp_path, terminal.network, terminal.catalog, terminal.policy
    hand_over(*papers)
    (tmp_path / "pages" / "notes.html").write_text("ours", encoding="utf-8")
    monkeypatch.setattr(places, "MOST_ROWS", 400)
    fewer = hand_over(*papers)
    there = {path for path in (tmp_path / "pages").iterdir() if path.name != "notes.html"}

    assert there == {path for path in fewer.files if path.parent.name == "pages"}
    monkeypatch.setattr(places, "LARGE", LARGE)
    hand_over(*papers)

    assert [path.name for path in (tmp_path / "pages").iterdir()] == ["notes.html"]


def test_without_templates_no_page_is_written_and_the_first_one_is_told_of(
    small: None, terminal: Dossier, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "jinja2", None)
    written = hand_over(terminal.plan, tmp_path, terminal.network, terminal.catalog, terminal.policy)

    assert [told.partition(":")[0] for told in written.left_out] == ["handover.html", "labels.html"]
    assert list((tmp_path / "pages").iterdir()) == []


@pytest.mark.parametrize("name", sorted(NAMES))
def test_hostile_names_stay_text_on_every_page(name: str, small: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from optiselect import solve

    monkeypatch.setattr(places, "LARGE", 0)
    network, catalog = hostile_documents(NAMES[name][:1000], TEXTS[name][:1000])
    hand_over(solve(network, catalog), tmp_path, network, catalog)
    page = (tmp_path / "pages" / "001.html").read_text(encoding="utf-8")

    assert page.count("<script") == page.count("</script>") == 1
    assert "<img" not in page
