"""What a notebook shows: complete, short, and never able to run what a document says."""

from __future__ import annotations

from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Finding
from tests.handover.pier import CATALOG, NETWORK, end, plan

_HOSTILE = "<script>alert(1)</script>\"'&<img src=x onerror=alert(1)>"
_HOSTILE_ID = _HOSTILE.replace("/", "")
_ALLOWED = {"div", "h4", "h5", "p", "b", "pre", "table", "thead", "tbody", "tr", "th", "td"}


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.opened: list[str] = []
        self.closed: list[str] = []
        self.attributes: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.opened.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        self.closed.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def _shown(thing: Any) -> _Tags:
    tags = _Tags()
    tags.feed(thing._repr_html_())
    return tags


def _hostile_network() -> Network:
    device: Callable[[str], dict[str, Any]] = lambda name: {"id": name, "ports": [{"id": _HOSTILE_ID, "kind": "copper", "rates": ["1G"]}]}  # noqa: E731
    return Network(
        name=_HOSTILE,
        devices=[device(_HOSTILE_ID + "1"), device(_HOSTILE_ID + "2")],
        runs=[{"id": _HOSTILE_ID, "ends": [_HOSTILE_ID + "1", _HOSTILE_ID + "2"], "copper": {"category": "Cat6", "length_m": 3}}],
    )


def _hostile_catalog() -> Catalog:
    return Catalog(name=_HOSTILE, currency="<b>EUR", modules=[{"part": "LAN-LX", "standard": _HOSTILE_ID}])


def _hostile_plan() -> Any:
    part = {"part": _HOSTILE_ID, "kind": "module", "used": 1, "spares": 0, "order": 1, "unit_price": 1.0, "total": 1.0}
    refusal = {"id": _HOSTILE_ID, "kind": "impossible", "request": {}, "candidates": 0, "tally": (), "text": _HOSTILE}
    link = {"id": _HOSTILE_ID, "rate": "1G", "over": (_HOSTILE_ID,), "ends": (end(_HOSTILE_ID, "1", _HOSTILE_ID), end("b", _HOSTILE_ID, None, cord="c"))}
    return plan(network=_HOSTILE, catalog=_HOSTILE, currency="<u>", parts=(part,), unserved=(refusal,), links=(link,), proof={"by": (_HOSTILE,)})


@pytest.mark.parametrize("thing", [_hostile_network(), _hostile_catalog(), _hostile_plan()], ids=["network", "catalog", "plan"])
def test_hostile_names_are_shown_and_not_run(thing: Any) -> None:
    tags = _shown(thing)

    assert set(tags.opened) <= _ALLOWED
    assert tags.attributes <= {"style"}
    assert _HOSTILE_ID in tags.text


@pytest.mark.parametrize("thing", [NETWORK, CATALOG, plan(), Network(), Catalog()], ids=["network", "catalog", "plan", "empty network", "empty catalog"])
def test_every_tag_is_closed(thing: Any) -> None:
    tags = _shown(thing)

    assert sorted(tags.opened) == sorted(tags.closed)


def test_network_shows_what_it_holds_and_what_is_wanted() -> None:
    text = _shown(NETWORK).text

    assert "2 sites, 3 devices, 6 ports, 0 panels, 2 runs, 2 links" in text
    assert "OM2" in text


def test_catalog_shows_its_classes_with_their_prices() -> None:
    text = _shown(CATALOG).text

    assert "2 modules, 1 converter, 1 cord, 1 attenuator" in text
    assert "31.00" in text


def test_plan_shows_the_proof_the_order_and_the_reason() -> None:
    text = _shown(plan()).text

    assert "1 of 2 links served; proven best on every objective by CP-SAT." in text
    assert "cost: 71.50 EUR" in text
    assert "no module runs 100M in a cage that runs 1G only" in text


def test_a_long_table_is_cut_and_says_how_much_is_left() -> None:
    links = [{"id": f"L{number}", "ends": ["core", "cam"]} for number in range(40)]
    shown = _shown(Network(devices=[{"id": "core"}, {"id": "cam"}], links=links)).text

    assert "and 15 more" in shown
    assert "L24" in shown
    assert "L25" not in shown


def test_finding_shows_required_and_available_side_by_side() -> None:
    finding = Finding(rule="light-budget", link="L1", path="core/1 to cam/up", required=7.5, available=6.0, unit="dB", text="F1 may lose 7.5 dB")
    text = _shown(finding).text

    assert "light-budget: does not hold" in text
    assert "L1core/1 to cam/up7.5 dB6 dB" in text


@pytest.mark.parametrize(("state", "said"), [({"unknown": True}, "cannot be checked"), ({"waived": True}, "waived")])
def test_finding_says_whether_it_is_unknown_or_waived(state: dict[str, bool], said: str) -> None:
    assert f"reach: {said}" in _shown(Finding(rule="reach", **state)).text


def test_refusal_shows_why_and_what_stops_how_many() -> None:
    text = _shown(plan().unserved[0]).text

    assert "L2: impossible" in text
    assert "no module runs 100M in a cage that runs 1G only" in text
    assert "7 candidates, by the rule that stops them" in text


@pytest.mark.parametrize(
    "thing",
    [
        Finding(rule="own-rule", link=_HOSTILE_ID, path=_HOSTILE, required=_HOSTILE, available=_HOSTILE, unit=_HOSTILE, text=_HOSTILE + _HOSTILE_ID),
        plan().unserved[0].model_copy(update={"id": _HOSTILE_ID, "text": _HOSTILE}),
    ],
    ids=["finding", "refusal"],
)
def test_hostile_reasons_are_shown_and_not_run(thing: Any) -> None:
    tags = _shown(thing)

    assert set(tags.opened) <= _ALLOWED
    assert tags.attributes <= {"style"}
    assert _HOSTILE_ID in tags.text
