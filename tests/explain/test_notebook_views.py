"""Reasons in a notebook: the same facts as tables, every text escaped."""

from __future__ import annotations

import re

from optiselect import explain, solve
from tests.explain.scenes import LX, SCENES, fiber, site


def test_a_refusal_shows_what_stands_against_it_what_comes_close_and_what_would_help() -> None:
    page = solve(*SCENES["a hot kiosk"]()).unserved[0]._repr_html_()
    assert re.findall(r"<h5>([^<]+)</h5>", page) == [
        "What stands against it",
        "What comes close",
        "What would help",
        "1 candidate, by the rule that stops them",
    ]
    assert "keep the air at cabinet between 0 and 55 C" in page


def test_a_served_link_shows_what_else_it_could_have() -> None:
    network, catalog, policy = site(fiber("OS2", 800), [LX, LX | {"part": "LX-Q", "price": 20.0, "temperature_c": [0, 70]}])
    page = explain(network, catalog, "L1", policy)._repr_html_()
    assert "L1: served" in page and "LX-Q at core with LX-I at gate" in page


def test_a_hostile_name_is_shown_and_not_run() -> None:
    hostile = "<script>alert(1)</script>".replace("/", "\\")
    network, catalog, policy = site(fiber("OS2", 800), [LX | {"part": hostile, "laser_class": "1M"}])
    page = solve(network, catalog, policy).unserved[0]._repr_html_()
    assert "<script" not in page and "&lt;script&gt;" in page
