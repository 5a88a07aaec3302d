"""The map: everything that is joined is on it, once, and told apart by shape as well as by color."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

import pytest

from optiselect import Network
from optiselect.handover.dossier import Dossier
from optiselect.handover.site_courses import LOOKS, DrawnLink, drawn_links, look_of, names_beside
from optiselect.handover.site_layout import HEAD, ROW, WIDTH, layout_of
from optiselect.handover.site_map import site_map_svg
from optiselect.model.plan import PlannedLink
from tests.handover.pier import direction, end

_SVG = "{http://www.w3.org/2000/svg}"


def _titles(of: Dossier) -> list[str]:
    return [title.text or "" for title in ElementTree.fromstring(site_map_svg(of)).iter(f"{_SVG}title")]


def test_every_device_panel_run_and_link_is_told(terminal: Dossier) -> None:
    titles = _titles(terminal)
    network = terminal.network

    assert {thing.id for things in (network.devices, network.panels) for thing in things} <= set(titles)
    assert sorted(title.split(":")[0] for title in titles if title.startswith("run ")) == sorted(f"run {run.id}" for run in network.runs)
    assert {f"link {link.id}" for link in network.wanted} <= {re.split(r": | is not", title)[0] for title in titles}


def test_refused_links_are_crossed_out_and_named(terminal: Dossier) -> None:
    refused = {link.name for link in drawn_links(terminal, layout_of(terminal.network)) if link.look.name == "unserved"}
    texts = {text.text for text in ElementTree.fromstring(site_map_svg(terminal)).iter(f"{_SVG}text")}

    assert refused == {refusal.id for refusal in terminal.plan.unserved}
    assert refused <= texts


@pytest.mark.parametrize(
    ("margins", "look"),
    [((), "copper"), ((0.99, 5.0), "tight"), ((1.0, 5.0), "fair"), ((2.999, 5.0), "fair"), ((3.0, 5.0), "ample"), ((None, 5.0), "unknown")],
)
def test_a_link_looks_like_its_least_margin(margins: tuple[float | None, ...], look: str) -> None:
    ways = [direction("core/1", "cam/up", margin) for margin in margins]
    link = PlannedLink(id="L1", rate="1G", over=("F1",), ends=(end("core", "1"), end("cam", "up")), directions=ways)

    assert look_of(link).name == look


def _light(color: str) -> float:
    """Relative luminance of an sRGB color (WCAG 2.2)."""
    parts = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_no_two_kinds_of_links_share_dash_and_width_and_all_stand_out_from_white() -> None:
    """WCAG 2.2, 1.4.11: graphics stand out at 3 to 1."""
    assert len({(look.dash, look.width) for look in LOOKS}) == len(LOOKS)
    assert all(1.05 / (_light(look.color) + 0.05) >= 3 for look in LOOKS)


def test_buildings_do_not_lie_on_each_other(terminal: Dossier) -> None:
    buildings = layout_of(terminal.network).buildings
    on_another = [
        (one.title, two.title)
        for place, one in enumerate(buildings)
        for two in buildings[place + 1 :]
        if abs(one.x - two.x) < WIDTH and one.y < two.y + two.height and two.y < one.y + one.height
    ]

    assert on_another == []


def test_devices_stand_inside_their_building(terminal: Dossier) -> None:
    layout = layout_of(terminal.network)
    boxes = {building.title: building for building in layout.buildings}

    for device in terminal.network.devices:
        site = terminal.network.site_by_id[device.site or ""]
        box = boxes[site.building or site.id]
        spot = layout.spots[device.id]

        assert (spot.left, box.y + HEAD <= spot.y - ROW / 2 < box.y + box.height) == (box.x, True)


def test_map_needs_nothing_beside_itself(terminal: Dossier) -> None:
    assert re.findall(r"https?://[^\"]*|href|@import|<style|<script|<image", site_map_svg(terminal)) == ["http://www.w3.org/2000/svg"]


def test_same_network_gives_the_same_map_in_any_order(terminal: Dossier) -> None:
    network = terminal.network
    turned = network.model_copy(update={key: getattr(network, key)[::-1] for key in ("sites", "devices", "panels", "runs")})

    assert layout_of(Network(**turned.stated())) == layout_of(network)


def test_a_network_of_nothing_has_a_map_of_nothing() -> None:
    layout = layout_of(Network())

    assert (layout.buildings, layout.spots, layout.width, layout.height) == ((), {}, 0.0, 0.0)


def test_names_keep_off_markers_and_other_names() -> None:
    class _At(DrawnLink):
        @property
        def marker(self) -> tuple[float, float]:
            return 0.0, 0.0

    many = [_At(f"link-{number}", LOOKS[0], (), "") for number in range(9)]
    placed = names_beside(many, 6.0, 11.0)

    assert 1 <= len(placed) <= 4
    assert len(set(placed.values())) == len(placed)


def test_map_of_an_unplaced_site_says_that_no_site_is_stated() -> None:
    ports: list[dict[str, Any]] = [{"id": "1", "kind": "copper", "rates": ["1G"]}]
    layout = layout_of(Network(devices=[{"id": "a", "ports": ports}, {"id": "b", "ports": ports}]))

    assert [building.title for building in layout.buildings] == ["no site stated"]
