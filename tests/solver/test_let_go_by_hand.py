"""Which links are let go, and what is told of those that are left: against a plain account of small made-up answers."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.model.network import Link
from optiselect.model.policy import Policy
from optiselect.solver import let_go, rounds
from optiselect.solver.choice import SpareSteps, Stage
from optiselect.solver.chosen import Chosen
from optiselect.solver.option import Option
from optiselect.solver.scarce import Resource, Scarce
from tests.solver.test_answers import option
from tests.solver.test_let_go import SEVEN, hall, parts, stopped

__all__ = ["stopped"]

SHORT = Scarce(ports=frozenset([("ports", "core", 0)]), stock=frozenset("AB"), power=frozenset(["core"]), diverse=frozenset(["K", "L"]))
RESOURCES: tuple[Resource, ...] = (("stock", "A"), ("stock", "B"), ("power", "core"))
OVERS: tuple[Resource, ...] = (("over", "K", "R1"), ("over", "L", "R1"))


@dataclass
class Answer:
    """An answer that may take more than there is.

    Attributes:
        uses: by link what it takes. units: by link the parts that are bought for it. room: of what is limited at all.
    """

    worth: dict[str, int]
    uses: dict[str, dict[Resource, int]]
    units: dict[str, dict[str, int]]
    room: dict[Resource, int]
    spares: dict[str, SpareSteps]

    def is_short(self, resource: Resource, links: set[str]) -> bool:
        """Whether these links and the spares that they call for take more of something than there is, or of two things that may not both be taken."""
        total = sum(self.uses[link].get(resource, 0) for link in links)
        if resource in OVERS:
            (other,) = set(OVERS) - {resource}
            return total > 0 and any(other in self.uses[link] for link in links)
        if resource[0] == "stock" and resource[1] in self.spares:
            bought = sum(self.units[link].get(resource[1], 0) for link in links)
            total += sum(step <= bought for step in self.spares[resource[1]].units)
        return resource in self.room and total > self.room[resource]

    def let_go(self) -> set[str]:
        """Link by link, from the least worth on, whatever takes of what is short then."""
        left = set(self.uses)
        for link in sorted(self.uses, key=lambda link: (self.worth[link], link)):
            if any(self.is_short(resource, left) for resource in self.uses[link]):
                left.remove(link)
        return set(self.uses) - left

    def given(self, short: Scarce = SHORT) -> tuple[Any, ...]:
        def uses(row: str, _: str, possible: Scarce) -> dict[Resource, int]:
            assert not possible.ports  # of which links find others before any is let go
            return self.uses[row]

        preparation = SimpleNamespace(may_run_short=short, capacity=self.room, apart=(OVERS,))
        prepared = SimpleNamespace(builder=SimpleNamespace(uses=uses), rows={link: link for link in self.uses})
        options = {link: option(units) for link, units in self.units.items()}
        return preparation, SimpleNamespace(prepared=prepared, picks=dict.fromkeys(self.uses, "pick"), options=options, spares=self.spares), self.worth


def answer(seed: int) -> Answer:
    draw = Random(seed)
    links = [f"L{number}" for number in range(6)]
    units = {link: {part: draw.choice((1, 2)) for part in draw.choice(("A", "B", "AB", "C"))} for link in links}
    uses = {link: {("stock", part): count for part, count in its.items()} for link, its in units.items()}
    for link in links:
        uses[link] |= {("power", "core"): draw.randint(1, 3)} if draw.random() < 0.5 else {}
        uses[link] |= {draw.choice(OVERS): 1} if draw.random() < 0.3 else {}
    room = {resource: draw.randint(1, 8) for resource in RESOURCES}
    spares = {part: SpareSteps(tuple(sorted(draw.choices(range(1, 6), k=2))), 100) for part in draw.sample("ABC", 2)} if draw.random() < 0.5 else {}
    return Answer({link: draw.choice((1, 2, 9)) for link in links}, uses, units, room, spares)


@pytest.mark.parametrize("block", range(4))
def test_links_of_the_least_worth_go_until_there_is_enough_for_the_rest(block: int) -> None:
    answers = [answer(seed) for seed in range(block * 100, block * 100 + 100)]
    gone = [let_go._beyond_stock_and_power(*each.given()) for each in answers]
    assert gone == [each.let_go() for each in answers]
    assert 20 < sum(map(bool, gone)) < 100


@pytest.mark.parametrize("kind", ["stock", "power", "diverse"])
def test_any_of_what_runs_short_is_enough_to_look(kind: str) -> None:
    each = answer(1)
    only = Scarce(**{kind: getattr(SHORT, kind)})
    assert let_go._beyond_stock_and_power(*each.given(only)) == each.let_go() != set()


def test_ports_alone_let_no_link_go_here() -> None:
    assert let_go._beyond_stock_and_power(*answer(1).given(Scarce(ports=SHORT.ports))) == set()


# -- what is told of the rest -------------------------------------------------------------------------------------

LINKS = {"A": {"weight": 3, "critical": True}, "B": {"weight": 2}, "C": {"weight": 1}, "D": {"weight": 4, "critical": True}}
ROWS = {name: SimpleNamespace(link=Link(id=name, ends=("a", "b"), **stated)) for name, stated in LINKS.items()}
OPTION: Option = option({"LX": 2}, 700)
BEFORE = [Stage("critical_links", 1, 1), Stage("links", 6, 7), Stage("unknowns", 0, 0), Stage("part_numbers", 1, 1), Stage("cost", 2_100, 2_100)]


@pytest.mark.parametrize(
    ("left", "told"),
    [
        ("ABC", [(1, 1), (6, 7), (0, 0), (1, 0), (2_100, 0)]),
        ("AB", [(1, 1), (5, 7), (0, 0), (1, 0), (1_400, 0)]),
        ("BC", [(0, 1), (3, 10), (0, 0), (1, 0), (1_400, 0)]),  # without the critical one nothing is known of the number of links
        ("", [(0, 1), (0, 10), (0, 0), (0, 0), (0, 0)]),
    ],
)
def test_what_is_told_of_the_links_that_are_left(left: str, told: list[tuple[int, int]]) -> None:
    chosen: Any = SimpleNamespace(prepared=SimpleNamespace(rows=ROWS), stages=BEFORE, spares={})
    stages = let_go._stages(chosen, dict.fromkeys(left, OPTION))
    assert stages == [Stage(stage.name, *each) for stage, each in zip(BEFORE, told, strict=True)]


@pytest.mark.parametrize(("weight_of_d", "is_let_go"), [(9, True), (8, False)])
def test_a_tenth_may_be_lost_and_no_more(weight_of_d: int, is_let_go: bool, stopped: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Links of weight 1 and 2, of 30 or of 29 in all."""
    told: list[Chosen | None] = []
    ask = rounds.let_go
    monkeypatch.setattr(rounds, "let_go", lambda *given: told.append(ask(*given)) or told[-1])  # type: ignore[func-returns-value]
    stopped(hall(SEVEN | {"D": {"weight": weight_of_d}}, 7), parts(stock=11), Policy())
    (found,) = told
    assert (found is not None) is is_let_go
    assert found is None or (set(found.picks), set(found.options), found.by_lists, found.fewest_confirmed) == (set("ACDFG"), set("ACDFG"), False, False)
