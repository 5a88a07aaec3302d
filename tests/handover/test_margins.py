"""The light of a plan as a picture: every direction is there, in order, at its true place, and harmless."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

from optiselect.handover.margins import bars, margins_svg
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from tests.handover.pier import CATALOG, NETWORK, direction, plan

_SVG = "{http://www.w3.org/2000/svg}"


def _link(**changes: Any) -> dict[str, Any]:
    return {**plan().links[0].model_dump(by_alias=True), **changes}


def _drawn(shown: Plan, network: Network = NETWORK) -> ElementTree.Element:
    return ElementTree.fromstring(margins_svg(shown, network, CATALOG))


def _rows(picture: ElementTree.Element) -> list[ElementTree.Element]:
    return picture.findall(f"{_SVG}g")


def _texts(part: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in part.iter(f"{_SVG}text")]


def test_every_direction_has_a_bar_and_the_least_margin_comes_first() -> None:
    rows = _rows(_drawn(plan()))

    assert [_texts(row) for row in rows] == [
        ["L1", "cam/up \N{RIGHTWARDS ARROW} core/1", "4.20", "0.11"],
        ["L1", "core/1 \N{RIGHTWARDS ARROW} cam/up", "4.34", "0.11"],
    ]


def test_levels_are_those_of_the_standard() -> None:
    """IEEE 802.3 Table 59-5, 1000BASE-LX10: sensitivity -19.5 dBm, overload -3 dBm; needed is the expected level less its margin."""
    least, _ = bars(plan(), NETWORK, CATALOG)

    assert (least.sensitivity_dbm, least.overload_dbm, least.needed_dbm, least.headroom_db) == (-19.5, -3.0, -14.86, 0.112)


def test_bar_reaches_from_sensitivity_to_overload_on_the_scale_that_is_printed() -> None:
    picture = _drawn(plan())
    lines = [float(line.get("x1", "")) for line in picture.findall(f"{_SVG}line") if line.get("y1") != line.get("y2")]
    ticks = sorted({float(text.get("x", "")) for text in picture.findall(f"{_SVG}text") if re.fullmatch("\N{MINUS SIGN}(20|0)|0", text.text or "")})
    per_db = (ticks[1] - ticks[0]) / 20
    frame = _rows(picture)[0].find(f"{_SVG}rect")

    assert frame is not None
    assert set(ticks) <= set(lines)
    assert abs(float(frame.get("x", "")) - (ticks[0] + 0.5 * per_db)) < 0.1
    assert abs(float(frame.get("width", "")) - 16.5 * per_db) < 0.1


def test_a_screen_reader_is_told_what_the_picture_shows() -> None:
    picture = _drawn(plan())

    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == "margins-title margins-desc"
    assert picture.findtext(f"{_SVG}title") == "Light at every receiver: Lantern pier"
    assert picture.findtext(f"{_SVG}desc") == "2 directions, least margin first. Least margin: 4.20 dB, L1. Below 1 dB: 0."
    assert _rows(picture)[0].findtext(f"{_SVG}title") == (
        "L1, cam/up to core/1: margin 4.20 dB; expected -10.66 dBm to -3.11 dBm; needed -14.86 dBm, sensitivity -19.50 dBm, overload -3.00 dBm"
    )


def test_an_unknown_figure_is_said_and_comes_last() -> None:
    dark = {"from": "core/1", "to": "cam/up", "wavelength_nm": None, "rx_dbm": (None, None)}
    picture = _drawn(plan(links=(_link(directions=(dark, direction("cam/up", "core/1", 0.5))),)))

    assert [_texts(row)[2:] for row in _rows(picture)] == [["0.50", "0.11"], ["?", "?"]]
    assert "A figure is unknown: the bar shows what is known" in _texts(picture)
    assert "Unknown: 1." in (picture.findtext(f"{_SVG}desc") or "")


def test_a_plan_without_light_says_so() -> None:
    picture = _drawn(plan(links=()))

    assert (picture.findtext(f"{_SVG}desc"), _rows(picture)) == ("No link of this plan sends light.", [])


def test_links_over_copper_are_counted_and_not_drawn() -> None:
    picture = _drawn(plan(links=(_link(), _link(id="L9", directions=()))))

    assert picture.findtext(f"{_SVG}desc", "").endswith("Not shown: 1 link over copper.")


def test_text_of_a_document_is_shown_and_never_run() -> None:
    name = '<script src="x">alert("1") & \N{RIGHT-TO-LEFT OVERRIDE}'
    picture = _drawn(plan(links=(_link(id=name),)), NETWORK.model_copy(update={"name": name}))

    assert {part.tag.removeprefix(_SVG) for part in picture.iter()} == {"svg", "title", "desc", "defs", "pattern", "rect", "line", "text", "g"}
    assert picture.findtext(f"{_SVG}title") == 'Light at every receiver: <script src="x">alert("1") & \N{REPLACEMENT CHARACTER}'


def test_long_and_wide_names_are_cut_where_the_next_column_begins() -> None:
    shown = [_texts(_rows(_drawn(plan(links=(_link(id=name),))))[0])[0] for name in ("gatehouse-north-barrier-2", "港" * 12, "W" * 10)]

    assert shown == ["gatehouse-north-b\N{HORIZONTAL ELLIPSIS}", "港" * 8 + "\N{HORIZONTAL ELLIPSIS}", "W" * 8 + "\N{HORIZONTAL ELLIPSIS}"]


def test_picture_needs_nothing_beside_itself() -> None:
    text = margins_svg(plan(), NETWORK, CATALOG)

    assert re.findall(r"https?://[^\"]*|href|@import|<style|<script|<image", text) == ["http://www.w3.org/2000/svg"]


def test_picture_is_told_apart_without_color() -> None:
    """Every color is a gray."""
    colors = set(re.findall(r"#(\w{6}|\w{3})\b", margins_svg(plan(), NETWORK, CATALOG)))

    assert {color for color in colors if len(set(re.findall(".." if len(color) == 6 else ".", color))) != 1} == set()
