"""Links are moved among the port groups that take their fittings: against every way to move them, on small made-up devices."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import product
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.model.catalog import Catalog
from optiselect.model.network import Link, Network
from optiselect.model.policy import Policy
from optiselect.solver import rounds
from optiselect.solver.links_at import LinksAt
from optiselect.solver.port_places import LinkEnd, ends_at, places_for, places_for_most, sure_to_run_short, worth_of
from optiselect.solver.prepare import Preparation
from optiselect.solver.progress import Watch
from optiselect.solver.solve import solve_bare
from tests.rules.fitting import built_to, copper, fiber

FITS = tuple(SimpleNamespace(name=name) for name in ("LX", "SX", "BX"))


@dataclass
class Device:
    """A device with its port groups, and links that end there at one side or both."""

    groups: list[Any]
    takes: dict[int, list[Any]]
    """By class of port what it accepts, each with whether a figure is unknown."""
    rows: dict[str, Any]
    picks: dict[str, Any]
    ends: list[LinkEnd]
    worth: dict[str, int]

    @property
    def given(self) -> tuple[Any, ...]:
        fittings = SimpleNamespace(groups=lambda _: self.groups, accepted=lambda end_class, _: self.takes[end_class])
        sheets = [SimpleNamespace(asks=0, asked=None)]
        return SimpleNamespace(fittings=fittings, sheets=sheets), SimpleNamespace(rows=self.rows), self.picks, "core", self.ends

    def may_take(self, end: LinkEnd) -> list[int]:
        """The positions where the fitting of an end is accepted with as much unknown as where it is; what is in place stays."""
        link_id, side = end
        pick, groups = self.picks[link_id], self.rows[link_id].groups[side]
        position, fit = ((pick.group_a, pick.fit_a), (pick.group_b, pick.fit_b))[side]
        if groups[position].installed:
            return [position]
        unknown = {item.unknown for item in self.takes[groups[position].end_class] if item.fit is fit}
        alike = [{item.unknown for item in self.takes[group.end_class] if item.fit is fit} == unknown for group in groups]
        return [place for place, group in enumerate(groups) if alike[place] and not group.installed]

    def has_room(self, places: dict[int, int]) -> bool:
        """Whether no group is wanted more often than it has ports."""
        wanted = Counter(self.group_of(number, place).index for number, place in places.items())
        return all(wanted[group.index] <= len(group.names) for group in self.groups)

    def group_of(self, number: int, place: int) -> Any:
        link_id, side = self.ends[number]
        return self.rows[link_id].groups[side][place]

    def worth_in(self, places: dict[int, int]) -> tuple[int, int]:
        """How many ends have a place, and what their links are worth."""
        return len(places), sum(self.worth[self.ends[number][0]] for number in places)

    def best(self) -> tuple[int, int]:
        """Of every way to give ends a place or none."""
        every = product(*([None, *self.may_take(end)] for end in self.ends))
        ways = [{number: place for number, place in enumerate(way) if place is not None} for way in every]
        return max(self.worth_in(way) for way in ways if self.has_room(way))


def device(seed: int) -> Device:
    """Two or three groups of few ports, three or four links."""
    draw = Random(seed)
    takes = {
        kind: [SimpleNamespace(fit=fit, unknown=draw.random() < 0.25) for fit in draw.sample(FITS, draw.choice((2, 3)))] for kind in range(draw.choice((1, 2)))
    }
    groups = [
        SimpleNamespace(index=10 + number, names=("port",) * draw.choice((1, 1, 2)), installed=draw.choice((None, None, "LX")), end_class=draw.choice([*takes]))
        for number in range(draw.choice((2, 3)))
    ]
    rows: dict[str, Any] = {}
    picks: dict[str, Any] = {}
    ends: list[LinkEnd] = []
    for name in "ABCD"[: draw.choice((3, 4))]:
        sides, shown = draw.choice(((0,), (1,), (0, 1))), tuple(tuple(draw.sample(groups, len(groups))) for _ in (0, 1))
        places = [draw.randrange(len(groups)) for _ in shown]
        fits = [draw.choice(takes[its[place].end_class]).fit for its, place in zip(shown, places, strict=True)]
        rows[name] = SimpleNamespace(groups=shown, places=[(0, 9)])
        picks[name] = SimpleNamespace(path=0, group_a=places[0], group_b=places[1], fit_a=fits[0], fit_b=fits[1])
        ends += [(name, side) for side in sides]
    return Device(groups, takes, rows, picks, ends[:5], {name: draw.choice((1, 2, 5, 20)) for name in rows})


@pytest.mark.parametrize("block", range(4))
def test_every_end_has_room_where_some_way_gives_all_of_them_room(block: int) -> None:
    found = {True: 0, False: 0}
    for site in map(device, range(block * 60, block * 60 + 60)):
        places = places_for(*site.given)
        assert (places is not None) == (site.best()[0] == len(site.ends))
        assert places is None or (
            site.has_room(dict(enumerate(places))) and all(place in site.may_take(end) for place, end in zip(places, site.ends, strict=True))
        )
        found[places is not None] += 1
    assert min(found.values()) > 5


@pytest.mark.parametrize("block", range(4))
def test_as_many_ends_have_room_as_can_be_and_those_that_are_worth_most(block: int) -> None:
    for site in map(device, range(block * 60, block * 60 + 60)):
        places = places_for_most(*site.given, site.worth)
        assert site.worth_in(places) == site.best()
        assert site.has_room(places)
        assert all(place in site.may_take(site.ends[number]) for number, place in places.items())


def at(device_id: str) -> tuple[SimpleNamespace, ...]:
    return (SimpleNamespace(device=SimpleNamespace(id=device_id)),)


ROWS = {name: SimpleNamespace(groups=(at(ends[0]), at(ends[1]))) for name, ends in {"K": "ba", "L": "ab", "M": "ca", "N": "aa"}.items()}
PREPARED = SimpleNamespace(rows=ROWS, links_at=LinksAt(ROWS))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("devices", "served", "ends"),
    [
        ("ba", "LK", {"a": [("K", 1), ("L", 0)], "b": [("K", 0), ("L", 1)]}),
        ("a", "MLK", {"a": [("K", 1), ("L", 0), ("M", 1)]}),
        ("c", "KL", {}),
        ("", "KLM", {}),
        ("a", "N", {"a": [("N", 0), ("N", 1)]}),
    ],
)
def test_ends_at_devices_in_order(devices: str, served: str, ends: dict[str, list[LinkEnd]]) -> None:
    found = ends_at(set(devices), PREPARED, dict.fromkeys(served))  # type: ignore[arg-type]
    assert [*found.items()] == [*ends.items()]


def test_critical_link_is_worth_more_than_all_others_together() -> None:
    links = [Link(id=name, ends=("a", "b"), weight=weight, critical=critical) for name, weight, critical in [("A", 5, False), ("B", 7, False), ("C", 1, True)]]
    worth = worth_of(iter(links))
    assert (worth["A"], worth["B"]) == (5, 7)
    assert worth["C"] > worth["A"] + worth["B"]
    assert worth_of(links[:1]) == {"A": 5}


SMALL, BIG = {"kind": "cage", "form": "SFP", "rates": ["1G"]}, {"kind": "cage", "form": "SFP+", "rates": ["1G", "10G"]}
FAR = {"1G": SMALL, "10G": BIG}
PARTS = Catalog(modules=[built_to("1000BASE-LX10", part="ONE"), built_to("10GBASE-LR", part="TEN", form="SFP+")])


def star(ports: list[dict[str, Any]], rates: list[str]) -> Network:
    """A core with these ports, and a device at the end of a run of its own for each link of these rates."""
    far = [f"far-{number}" for number in range(len(rates))]
    return Network(
        devices=[{"id": "core", "ports": ports}, *({"id": name, "ports": [{"id": "1", **FAR[rate]}]} for name, rate in zip(far, rates, strict=True))],
        runs=[{"id": f"run-{name}", "ends": ["core", name], **fiber(300)} for name in far],
        links=[{"id": name, "ends": ["core", name], "rate": rate} for name, rate in zip(far, rates, strict=True)],
    )


def prepared(network: Network) -> Preparation:
    preparation = Preparation(network, PARTS, Policy(), Watch(None, None, 60, 60))
    preparation.run()
    return preparation


@pytest.mark.parametrize(
    ("ports", "rates", "short"),
    [
        ([{"ids": "1-2", **SMALL}], ["1G"] * 3, True),
        ([{"ids": "1-3", **SMALL}], ["1G"] * 3, False),
        ([{"ids": "1-2", **SMALL}, {"id": "u", **BIG}], ["1G"] * 3, False),  # the bigger cage takes a smaller module too
        ([{"ids": "1-2", **SMALL}, {"id": "u", **BIG}], ["1G"] * 4, True),
        ([{"ids": "1-9", **SMALL}, {"id": "u", **BIG}], ["10G"] * 2 + ["1G"], True),  # ports enough, but one for 10G
        ([{"ids": "1-9", **SMALL}, {"id": "u", **BIG}], ["10G"] + ["1G"] * 9, False),
        ([{"ids": "1-9", **SMALL}, {"ids": "u1-u2", **BIG}], ["10G"] + ["1G"] * 10, False),  # one of 1G goes into what 10G leaves
    ],
)
def test_ports_are_sure_to_run_short_where_more_links_end_than_anything_goes_into(ports: list[dict[str, Any]], rates: list[str], short: bool) -> None:
    network = star(ports, rates)
    assert {resource[1] for resource in sure_to_run_short(prepared(network))} == ({"core"} if short else set())
    assert bool(solve_bare(network, PARTS, Policy()).unserved) is short


def test_link_that_may_go_over_fiber_or_copper_finds_a_port_for_either() -> None:
    socket = {"id": "c", "kind": "copper", "rates": ["1G"]}
    network = star([{"id": "1", **SMALL}, socket], ["1G"] * 2)
    stated = network.stated()
    stated["devices"][2]["ports"].append(socket)
    stated["runs"].append({"id": "copper", "ends": ["core", "far-1"], **copper(20, "Cat6")})
    either = Network(**stated)
    assert prepared(either).may_run_short.ports
    assert not sure_to_run_short(prepared(either))
    assert not solve_bare(either, PARTS, Policy()).unserved


def test_ports_that_are_sure_to_run_short_are_counted_in_the_first_round(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []

    def choosing(*given: Any) -> Any:
        asked.append(len(given[1].ports))
        return choose(*given)

    choose = rounds._choose
    monkeypatch.setattr(rounds, "_choose", choosing)
    plan = solve_bare(star([{"ids": "1-2", **SMALL}], ["1G"] * 3), PARTS, Policy())
    assert [refusal.kind for refusal in plan.unserved] == ["crowded-out"]
    assert asked == [1]
