"""Answers of a round on their own: what they add up to, what they prove of one another, how they go back to links, what a charge makes of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from optiselect.errors import Cancelled
from optiselect.model.network import Link
from optiselect.solver import same_parts
from optiselect.solver.charged import Charged
from optiselect.solver.choice import Name, Outcome, Row, SpareSteps, Stage, Task
from optiselect.solver.chosen import Chosen, best_alike, better_of, bounded_by, cost_of_spares, options_of, values_of
from optiselect.solver.clusters import Way
from optiselect.solver.option import Option, OptionList, Wanted
from optiselect.solver.prepare import Prepared
from optiselect.solver.progress import Watch
from optiselect.solver.same_parts import _taken, further, may_follow, searched_on, with_same_parts
from optiselect.solver.scarce import Resource, Scarce


def option(parts: dict[str, int], cost: int = 0, *uses: tuple[Resource, int], strands: int = 2, **measures: int) -> Option:
    rest = {"modules": 2, "changes": 0, "unknown": 0, "disliked": 0} | measures
    return Option(tuple(sorted(parts.items())), frozenset(parts), cost, strands, uses=uses, pick=None, **rest)  # type: ignore[arg-type]


LINKS = {"A": Link(id="A", ends=("a", "b"), weight=3, critical=True), "B": Link(id="B", ends=("a", "b"), weight=2), "C": Link(id="C", ends=("a", "b"))}
ROWS = {name: SimpleNamespace(link=link) for name, link in LINKS.items()}
LX, SX = option({"LX": 2}, 700), option({"SX": 1, "LX": 1}, 500, strands=3, changes=1, unknown=1, disliked=2)
SPARES = {"LX": SpareSteps((2, 3, 5), 100), "SX": SpareSteps((1,), 40), "BX": SpareSteps((1,), 9_000)}


@pytest.mark.parametrize(
    ("options", "spares", "values"),
    [
        ({}, {}, (0, 0, 0, 0, 0, 0, 0, 0, 0)),
        ({"A": LX}, {}, (1, 3, 0, 1, 700, 2, 2, 0, 0)),
        ({"B": SX, "C": LX}, {}, (0, 3, 1, 2, 1_200, 5, 4, 1, 2)),
        ({"B": SX, "C": LX}, SPARES, (0, 3, 1, 2, 1_440, 5, 4, 1, 2)),
    ],
)
def test_objectives_of_options(options: dict[str, Option], spares: dict[str, SpareSteps], values: tuple[int, ...]) -> None:
    names: tuple[Name, ...] = ("critical_links", "links", "unknowns", "part_numbers", "cost", "strands", "modules", "changes", "disliked")
    found = values_of(SimpleNamespace(rows=ROWS), options, spares)  # type: ignore[arg-type]
    assert found == dict(zip(names, values, strict=True))


@pytest.mark.parametrize(("options", "cost"), [([], 0), ([LX], 100), ([SX], 40), ([LX, SX], 240), ([LX, LX, SX], 340)])
def test_spares_are_paid_for_by_the_units_of_all_links(options: list[Option], cost: int) -> None:
    assert cost_of_spares(iter(options), SPARES) == cost
    assert cost_of_spares(options, {}) == 0


# -- two answers to one question ----------------------------------------------------------------------------------


def answer(*stages: tuple[Name, int, int], by_lists: bool = False) -> Chosen:
    return Chosen(None, Scarce(), [Stage(*stage) for stage in stages], {}, {}, by_lists)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("mine", "theirs", "bounds"),
    [
        ([("links", 5, 9), ("cost", 40, 10), ("strands", 6, 1)], [("links", 5, 7), ("cost", 40, 20), ("strands", 6, 4)], [7, 20, 4]),
        ([("links", 5, 7), ("cost", 40, 20), ("strands", 6, 4)], [("links", 5, 9), ("cost", 40, 10), ("strands", 6, 1)], [7, 20, 4]),
        ([("links", 5, 9), ("cost", 40, 10), ("strands", 6, 1)], [("links", 6, 7), ("cost", 40, 20), ("strands", 6, 4)], [7, 10, 1]),
        ([("links", 5, 9), ("cost", 40, 10), ("strands", 6, 1)], [("links", 5, 7), ("cost", 30, 20), ("strands", 6, 4)], [7, 20, 1]),
        ([("critical_links", 1, 3), ("links", 5, 9)], [("critical_links", 1, 2), ("links", 5, 8)], [2, 8]),
    ],
)
def test_bounds_of_another_answer_hold_up_to_the_first_objective_in_which_they_differ(mine: Any, theirs: Any, bounds: list[int]) -> None:
    found = bounded_by(answer(*theirs), answer(*mine)).stages
    assert found == [Stage(name, value, bound) for (name, value, _), bound in zip(mine, bounds, strict=True)]


@pytest.mark.parametrize("by_lists", [(False, False), (True, False), (False, True), (True, True)])
def test_search_over_lists_is_told_where_either_answer_is_of_one(by_lists: tuple[bool, bool]) -> None:
    mine, theirs = (answer(("links", 5, 9), by_lists=each) for each in by_lists)
    assert bounded_by(theirs, mine).by_lists is any(by_lists)


def test_answer_that_is_bounded_keeps_its_links_in_the_port_groups_that_they_were_moved_to() -> None:
    chosen = Chosen(None, Scarce(), [Stage("links", 1, 1)], {}, {"A": LX})  # type: ignore[arg-type]
    moved: Any = "moved"
    chosen.picks["A"] = moved
    assert bounded_by(answer(("links", 1, 1)), chosen).picks == {"A": "moved"}


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ([("links", 5, 9), ("cost", 40, 10)], [("links", 4, 9), ("cost", 10, 0)]),
        ([("links", 5, 9), ("cost", 40, 10)], [("links", 5, 9), ("cost", 41, 0)]),
        ([("critical_links", 2, 3), ("links", 5, 9)], [("critical_links", 1, 3), ("links", 6, 9)]),
    ],
)
def test_answer_that_is_better_in_the_first_objective_that_differs_is_the_better(better: Any, worse: Any) -> None:
    assert [stage.value for stage in better_of(answer(*better), answer(*worse)).stages] == [value for _, value, _ in better]
    assert [stage.value for stage in better_of(answer(*worse), answer(*better)).stages] == [value for _, value, _ in better]


def test_answer_of_which_everything_is_proven_is_the_one_that_is_told() -> None:
    """Of two that are alike: a proof is told as it was found."""
    proven, open_ = answer(("links", 5, 5), ("cost", 9, 9)), answer(("links", 5, 5), ("cost", 9, 3), by_lists=True)
    assert better_of(open_, proven) is proven


@pytest.mark.parametrize("follow", [with_same_parts, lambda preparation, found, _, tasks, watch: further(preparation, found, tasks, watch)])
def test_caller_who_stops_is_heard_at_once_as_there_is_a_plan(follow: Any) -> None:
    asked: list[dict[str, Any]] = []

    def counting(_: Scarce, **named: Any) -> None:
        asked.append(named)
        raise Cancelled

    first = Chosen(None, Scarce(), [Stage("links", 1, 1)], {}, {"A": LX}, possible=frozenset(["LX"]))  # type: ignore[arg-type]
    assert follow(SimpleNamespace(counting=counting), first, Scarce(), None, Watch(None, None, 60.0, 60.0)) is None
    assert asked == [{"may_stop": True, "has_plan": True, "wanted": Wanted(only=frozenset(["LX"]))}]


def test_answer_of_which_only_something_is_proven_is_told_with_what_the_other_proves() -> None:
    found = better_of(answer(("links", 5, 5), ("cost", 9, 3)), answer(("links", 5, 5), ("cost", 9, 6)))
    assert found.stages == [Stage("links", 5, 5), Stage("cost", 9, 6)]
    assert better_of(answer(("links", 5, 5), ("cost", 9, 6)), answer(("links", 5, 5), ("cost", 10, 3))).stages == found.stages


@pytest.mark.parametrize(
    ("links", "told"),
    [
        (5, [("links", 5, 5), ("part_numbers", 2, 2), ("cost", 700, 0), ("changes", 3, 0)]),  # proven of these part numbers is not proven of all
        (4, None),
    ],
)
def test_what_is_proven_with_the_same_part_numbers_is_not_proven_of_others(links: int, told: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    before = Chosen(None, Scarce(), [Stage("links", 5, 5), Stage("part_numbers", 2, 2), Stage("cost", 600, 600)], {}, {"A": LX})  # type: ignore[arg-type]
    before.possible, before.fewest_confirmed = frozenset(["LX", "SX"]), True
    found = answer(("links", links, links), ("part_numbers", 2, 2), ("cost", 700, 700), ("changes", 3, 3))
    monkeypatch.setattr(same_parts, "planned_within", lambda names, *_: {frozenset(["LX"]): found}[names])
    tasks: Any = SimpleNamespace(objectives=("links", "part_numbers", "cost", "changes"), plans_spares=False)
    given: Any = (None, before, Scarce(), tasks, Watch(None, None, 60.0, 60.0))
    follows = with_same_parts(*given)
    assert (follows and [(stage.name, stage.value, stage.bound) for stage in follows.stages]) == told
    assert follows is None or (follows.possible, follows.fewest_confirmed) == (before.possible, True)


@pytest.mark.parametrize(
    ("links", "possible", "plans_spares", "follows"),
    [(101, frozenset(["LX"]), False, True), (100, frozenset(["LX"]), False, False), (101, None, False, False), (101, frozenset(["LX"]), True, False)],
)
def test_part_numbers_are_begun_with_on_large_networks_where_they_are_the_fewest(links: int, possible: Any, plans_spares: bool, follows: bool) -> None:
    before: Any = SimpleNamespace(picks=dict.fromkeys(range(links)), possible=possible)
    tasks: Any = SimpleNamespace(plans_spares=plans_spares)
    assert may_follow(before, tasks) is follows


# -- from the ways of a task to links -----------------------------------------------------------------------------


def way(*taken: int) -> Way:
    return Way(taken, (0,) * 8, (), frozenset(), ())


def test_units_of_a_row_take_its_ways_in_order_and_links_that_are_not_served_take_none() -> None:
    rows = (Row((("A", "B"), ("C", "D"), ("E", "F")), (way(1, -1), way(0, 2))), Row((("G",), ("H",)), (way(1),)))
    lists = {name: SimpleNamespace(options=(f"{name}0", f"{name}1", f"{name}2")) for name in "ABCDEFGH"}
    builder = SimpleNamespace(at_this_price=lambda found, row: f"{found} as {row}")
    prepared: Any = SimpleNamespace(rows={name: name.lower() for name in lists}, options=lists, builder=builder)
    task: Any = SimpleNamespace(rows=rows)
    found: Any = options_of(prepared, task, Outcome([{1: 1, 0: 2}, {0: 1}]))
    assert found == {"A": "A1 as a", "C": "C1 as c", "E": "E0 as e", "F": "F2 as f", "G": "G1 as g"}


PAIRS = (Row((("A", "B"),), (way(0, 1), way(2, 2))),)
FIRST, SECOND, THIRD, ELSE = (option({part: 2}) for part in ("LX", "SX", "BX", "ZX"))


@pytest.mark.parametrize(
    ("options", "taken"),
    [
        ({"A": FIRST, "B": SECOND}, [{0: 1}]),
        ({"A": THIRD, "B": THIRD}, [{1: 1}]),
        ({}, [{}]),
        ({"A": FIRST}, None),  # no way serves one of them alone
        ({"B": SECOND}, None),
        ({"A": ELSE, "B": ELSE}, None),  # an option that is not listed is none of the three
        ({"A": FIRST, "B": ELSE}, None),
    ],
)
def test_answer_that_no_way_stands_for_is_no_place_to_begin(options: Any, taken: list[dict[int, int]] | None) -> None:
    lists = {name: OptionList((FIRST, SECOND, THIRD), (), (None, False), {}) for name in "AB"}
    prepared: Any = SimpleNamespace(options=lists, rows=ROWS)
    found: Any = SimpleNamespace(options=options, prepared=prepared)
    assert _taken(Task(PAIRS, {}, (), {}, ("links", "part_numbers", "cost")), prepared, found) == taken


def serving(*taken: int, names: str = "LX", critical: int = 1, links: int = 3) -> Way:
    return Way(taken, (-critical, -links, *(0,) * 6), (), frozenset([names]), ())


@pytest.mark.parametrize(
    ("ways", "taken"),
    [
        ((way(0, 1), serving(2, -1), serving(0, -1)), [{2: 1}]),  # the same options before others that stand for them
        ((way(0, 1), serving(2, -1), serving(1, -1)), [{1: 1}]),
        ((serving(2, -1, critical=0), serving(1, -1)), [{1: 1}]),  # the link is a critical one
        ((serving(2, -1, critical=0),), None),
        ((serving(2, -1, links=2),), None),
        ((serving(2, -1, names="SX"),), None),
    ],
)
def test_way_that_stands_for_what_a_link_has(ways: tuple[Way, ...], taken: Any) -> None:
    lists = {name: OptionList((FIRST, SECOND, THIRD), (), (None, False), {}) for name in "AB"}
    found: Any = SimpleNamespace(options={"A": FIRST}, prepared=SimpleNamespace(options=lists, rows=ROWS))
    task = Task((Row((("A", "B"),), ways),), {}, (), {}, ("critical_links", "links", "part_numbers", "cost"))
    assert _taken(task, found.prepared, found) == taken


@pytest.mark.parametrize(("measured", "begins"), [((5, 0, 2), True), ((5, 1, 2), False), ((4, 0, 2), False), ((5, 0, 1), False)])
def test_search_begins_only_where_everything_that_is_settled_counts_the_same(measured: tuple[int, ...], begins: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    names: tuple[Name, ...] = ("links", "unknowns", "part_numbers", "cost")
    found = answer(("links", 5, 5), ("unknowns", 0, 0), ("part_numbers", 2, 2), ("cost", 9, 3))
    begun: list[list[Stage]] = []
    monkeypatch.setattr(same_parts, "_taken", lambda *_: [{}])
    monkeypatch.setattr(same_parts, "measure", lambda _, __, name: dict(zip(names, (*measured, 0), strict=True))[name])
    monkeypatch.setattr(same_parts, "choose", lambda _, __, outcome: begun.append(outcome.stages))
    monkeypatch.setattr(same_parts, "options_of", lambda *_: {})
    preparation: Any = SimpleNamespace(counting=lambda *_, **__: None)
    tasks: Any = SimpleNamespace(objectives=names, plans_spares=False, whole=lambda *_, **__: None)
    assert (further(preparation, found, tasks, Watch(None, None, 60.0, 60.0)) is not None) is begins
    assert begun == [found.stages[:3]] * begins


@pytest.mark.parametrize(("links", "asked"), [(100, 0), (101, 1)])
def test_own_part_numbers_are_searched_first_on_large_networks(links: int, asked: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found: Any = SimpleNamespace(picks=dict.fromkeys(range(links)), counted=Scarce())
    given: list[object] = []
    monkeypatch.setattr(same_parts, "with_same_parts", lambda *its: given.append(its))
    monkeypatch.setattr(same_parts, "further", lambda *_: None)
    nothing: Any = None
    assert searched_on(nothing, found, nothing, nothing) is None
    assert len(given) == asked


# -- charges ------------------------------------------------------------------------------------------------------

STRANDS, PORTS = ("strands", "R1"), ("ports", "core", 0)
OF_LX, OF_SX = ("stock", "LX"), ("stock", "SX")


def prepared_with(**lists: tuple[Option, ...]) -> Prepared:
    taken = {name: tuple(sorted({resource for option in options for resource, _ in option.uses})) for name, options in lists.items()}
    options = {name: OptionList(options, taken[name], (None, False), {}) for name, options in lists.items()}
    capacity = {STRANDS: 4, OF_LX: 3, OF_SX: 1, PORTS: 2}
    before: Any = "the network before"
    return Prepared({}, options, capacity, (), None, {}, frozenset(), before)  # type: ignore[arg-type]


MIXED = option({"LX": 2, "SX": 1}, 500, (STRANDS, 2), (OF_LX, 2), (OF_SX, 1))
PLAIN = option({"BX": 1}, 900, (STRANDS, 1), (PORTS, 1))


def best_of(chosen: dict[str, Option], settled: set[int], aimed: tuple[Name, ...], **lists: tuple[Option, ...]) -> dict[str, Option]:
    prepared = prepared_with(**lists)
    prepared.rows = dict.fromkeys(lists, SimpleNamespace())
    prepared.builder = SimpleNamespace(at_this_price=lambda option, _: option)
    return best_alike(prepared, chosen, settled, aimed)


DEAR, CHEAP, SHORTER = option({"LX": 2}, 900), option({"LX": 1, "BX": 1}, 700), option({"BX": 2}, 700, strands=1)


@pytest.mark.parametrize(
    ("chosen", "others", "settled", "aimed", "best"),
    [
        (DEAR, (CHEAP, SHORTER), set(), ("cost",), CHEAP),  # of equal ones the first
        (DEAR, (CHEAP, SHORTER), set(), ("cost", "strands"), SHORTER),
        (DEAR, (CHEAP, SHORTER), set(), ("strands", "cost"), SHORTER),
        (DEAR, (CHEAP, SHORTER), set(), ("links", "part_numbers"), DEAR),  # what is chosen stands where nothing is better
        (DEAR, (option({"LX": 1}, 100, unknown=1),), {0}, ("cost",), DEAR),  # no worse in what is settled
        (DEAR, (CHEAP,), {0, 2}, ("cost",), CHEAP),  # as good is no worse
        (option({"LX": 1}, 100, unknown=1), (DEAR,), set(), ("unknowns", "cost"), DEAR),
        (DEAR, (option({"LX": 1}, 100, unknown=1),), set(), ("cost",), option({"LX": 1}, 100, unknown=1)),
        (DEAR, (option({"LX": 1}, 100, (STRANDS, 1)),), set(), ("cost",), DEAR),  # takes what the other does not
        (option({"LX": 1}, 900, (STRANDS, 2)), (option({"LX": 1}, 100, (STRANDS, 2)),), set(), ("cost",), option({"LX": 1}, 100, (STRANDS, 2))),
        (DEAR, (option({"SX": 2}, 1),), set(), ("cost",), DEAR),  # no part number that no link has
    ],
)
def test_best_option_that_may_take_the_place_of_the_chosen_one(chosen: Option, others: Any, settled: set[int], aimed: Any, best: Option) -> None:
    found = best_of({"A": chosen, "B": SHORTER}, settled, aimed, A=(chosen, *others), B=(SHORTER,))
    assert found == {"A": best, "B": SHORTER}


def test_charges_are_paid_for_every_unit_of_the_parts_they_are_on_and_only_those_take_no_stock() -> None:
    shared = (MIXED, PLAIN)
    charged = Charged(prepared_with(A=shared, B=shared, C=(LX,)), {OF_LX: 1_000, ("stock", "ZX"): 7})
    mixed, plain = charged.prepared.options["A"].options
    assert (mixed.cost, mixed.uses) == (2_500, ((STRANDS, 2), (OF_SX, 1)))
    assert plain is PLAIN
    assert charged.originals == {id(mixed): MIXED}
    assert charged.prepared.options["B"].options is charged.prepared.options["A"].options
    assert charged.prepared.options["A"].taken == (PORTS, OF_SX, STRANDS)
    assert charged.prepared.options["C"].taken == ()
    assert charged.prepared.capacity == {STRANDS: 4, OF_SX: 1, PORTS: 2}
    assert charged.prepared.before is None


def test_what_charged_options_take_of_stock_is_added_up() -> None:
    charged = Charged(prepared_with(A=(MIXED, PLAIN)), {OF_LX: 10, OF_SX: 100})
    mixed, plain = charged.prepared.options["A"].options
    assert mixed.cost == 500 + 2 * 10 + 100
    assert charged.used([mixed, plain, mixed]) == {OF_LX: 4, OF_SX: 2}
    assert charged.used([plain]) == {}
