"""What links of a cluster can do together, beside every combination of their options: on random clusters, of which many begin alike."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from optiselect.solver import clusters
from optiselect.solver.clusters import Clusters, Shapes, Way, with_names_in
from optiselect.solver.joined import Cluster, Member, joined, partners
from optiselect.solver.joint import joined_by
from optiselect.solver.option import Option, OptionList, Pick

RUNS = [("strands", f"F{number}") for number in range(4)]
PARTS = [f"M{number}" for number in range(5)]
SETTLED = [0, 1, 2]
COUNTED = (0, 1, 2, 3, 4)


def options_over(draw: Random, resources: list[tuple[str, str]]) -> OptionList:
    """Some options over these resources; some may be pointless."""
    options = []
    for _ in range(draw.choice([1, 2, 3])):
        names = frozenset(draw.sample(PARTS, draw.choice([1, 1, 2])))
        uses = tuple((resource, draw.choice([1, 1, 2])) for resource in resources if draw.random() < 0.8)
        figures = (draw.choice([10, 20, 30]), draw.choice([1, 2]), 0, 0, draw.choice([0, 0, 1]), 0)
        options.append(Option(tuple((part, 1) for part in sorted(names)), names, *figures, uses, Pick(0, None, 0, 0, 0, None, None)))
    taken = tuple(dict.fromkeys(resource for option in options for resource, _ in option.uses))
    return OptionList(tuple(options), taken, (None, False), {})


def sums_of(members: list[Member], combination: tuple[int, ...]) -> tuple[int, ...]:
    total = [0] * 8
    for member, position in zip(members, combination, strict=True):
        if position >= 0:
            its = (-int(member.critical), -member.weight, *member.options[position].measures())
            total = [a + b for a, b in zip(total, its, strict=True)]
    return tuple(total[place] if place in COUNTED else 0 for place in range(8))


def everything(members: list[Member], capacity: dict, apart: tuple, count_units: bool) -> list[tuple]:
    """Sums, part numbers and units of every combination with room that is best in what is settled, the pointless ones left out."""
    found = []
    others = partners(apart)
    for combination in product(*[range(-1, len(member.options)) for member in members]):
        used: dict = {}
        units: dict[str, int] = {}
        for member, position in zip(members, combination, strict=True):
            for resource, amount in member.found.uses(member.options[position]) if position >= 0 else ():
                used[resource] = used.get(resource, 0) + amount
            for part, count in member.options[position].parts if position >= 0 else ():
                units[part] = units.get(part, 0) + count
        if any(amount > capacity.get(resource, amount) for resource, amount in used.items()):
            continue
        if any(other in used for resource in used for other in others.get(resource, ())):
            continue
        found.append((sums_of(members, combination), tuple(sorted(units.items()))))
    for place in SETTLED:
        least = min(sums[place] for sums, _ in found)
        found = [(sums, units) for sums, units in found if sums[place] == least]

    def beats(one: tuple, other: tuple) -> bool:
        if any(a > b for a, b in zip(one[0], other[0], strict=True)):
            return False
        mine, theirs = dict(one[1]), dict(other[1])
        return all(count <= theirs.get(part, 0) for part, count in mine.items()) if count_units else mine.keys() <= theirs.keys()

    shown = {(sums, units if count_units else tuple((part, 0) for part, _ in units)) for sums, units in found}
    return sorted(one for one in shown if not any(beats(other, one) for other in shown if other != one))


@pytest.mark.parametrize("count_units", [False, True])
@pytest.mark.parametrize("seed", range(60))
def test_ways_are_those_of_trying_everything(seed: int, count_units: bool) -> None:
    draw = Random(seed)
    lists = {run: [options_over(draw, [run]) for _ in range(2)] for run in RUNS}
    apart = ((RUNS[0], RUNS[1]),) if draw.random() < 0.3 else ()
    members = []
    for number in range(14):
        runs = draw.choice([[], draw.sample(RUNS, 2), *[[draw.choice(RUNS)]] * 6])
        found = draw.choice(lists[runs[0]]) if len(runs) == 1 else options_over(draw, runs)
        members.append(Member(f"L{number:02}", found, draw.random() < 0.2, draw.choice([1, 1, 3])))
    members = members[: draw.randint(3, 14)]
    capacity = {run: draw.randint(0, 5) for run in RUNS if draw.random() < 0.9}
    listing = Clusters(capacity, apart, SETTLED, COUNTED, count_units=count_units, shapes=Shapes())
    for cluster in joined(members, apart).clusters:
        its = list(cluster.members)
        if len(its) > 5:
            continue  # too many combinations to try
        ways = listing.ways(cluster)
        assert ways is not None
        shown = sorted({(way.sums, way.parts if count_units else tuple((part, 0) for part, _ in way.parts)) for way in ways})
        assert shown == everything(its, capacity, apart, count_units)
        for way in ways:
            assert way.sums == sums_of(its, way.taken)
            assert way.names == {part for member, place in zip(its, way.taken, strict=True) if place >= 0 for part in member.options[place].names}


def test_clusters_that_begin_alike_list_their_beginning_once(monkeypatch: pytest.MonkeyPatch) -> None:
    draw = Random(3)
    alike, another = options_over(draw, [RUNS[0]]), options_over(draw, [RUNS[0]])
    before = []

    def counted(joint, *rest, **more):
        before.append(joint.taken.shape[1])
        return joined_by(joint, *rest, **more)

    monkeypatch.setattr("optiselect.solver.clusters.joined_by", counted)
    listing = Clusters({RUNS[0]: 99}, (), SETTLED, COUNTED, count_units=False, shapes=Shapes())
    for last in (alike, another):
        members = [Member("1", alike, False, 1), Member("2", alike, False, 1), Member("3", last, False, 1)]
        (cluster,) = joined(members, ()).clusters
        assert listing.ways(cluster)
    assert before == [0, 1, 2, 2]


@pytest.mark.parametrize(("name", "most"), [("_MOST_STEPS", 5), ("MOST_WAYS", 0)])
def test_a_cluster_that_is_too_large_is_not_listed(name: str, most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    draw = Random(1)
    found = next(found for found in iter(lambda: options_over(draw, [RUNS[0]]), None) if len(found.options) == 3 and len(found.taken) == 1)
    (several,) = joined([Member(str(number), found, False, 1) for number in range(3)], ()).clusters
    (alone,) = joined([Member("1", options_over(draw, []), False, 1)], ()).clusters

    def ways(cluster: Cluster) -> list[Way] | None:
        return Clusters({RUNS[0]: 99}, (), SETTLED, COUNTED, count_units=False, shapes=Shapes()).ways(cluster)

    assert ways(several)
    monkeypatch.setattr(clusters, name, most)
    assert ways(several) is None
    assert ways(alone)


@pytest.mark.parametrize("kinds", [3, 60])
@pytest.mark.parametrize("seed", range(20))
def test_ways_whose_part_numbers_are_among_others_are_found_whichever_are_fewer(seed: int, kinds: int) -> None:
    draw = Random(seed)
    sets = {frozenset(draw.sample(PARTS, draw.randint(0, 4))) for _ in range(kinds)}
    by_names = {names: [Way((place,), (0,) * 8, (), names, ())] for place, names in enumerate(sorted(sets, key=sorted))}
    for size in range(len(PARTS) + 1):
        names = frozenset(draw.sample(PARTS, size))
        within = [way for other, ways in by_names.items() if other <= names for way in ways]
        assert sorted(with_names_in(names, by_names), key=lambda way: way.taken) == within


def test_ways_of_fewer_part_numbers_are_found_in_one_order() -> None:
    by_names = {frozenset(names): [Way((), (0,) * 8, (), frozenset(names), ())] for names in ("b", "a", "c", "ab", "bc", "abc", "abcd", "d", "cd", "bd")}
    assert [sorted(way.names) for way in with_names_in(frozenset("ab"), by_names)] == [["a"], ["b"], ["a", "b"]]


@pytest.mark.parametrize(("looked_through", "count_units", "left"), [(True, False, 1), (False, True, 2), (True, True, 2), (False, False, 1)])
def test_a_list_is_looked_through_again_where_units_did_count_and_do_not(looked_through: bool, count_units: bool, left: int) -> None:
    """Two units of a part at 10 beside one unit at 20: where units count, neither is pointless."""
    pick = Pick(0, None, 0, 0, 0, None, None)
    options = tuple(Option((("M1", units),), frozenset({"M1"}), cost, 1, 0, 0, 0, 0, (), pick) for units, cost in ((2, 10), (1, 20)))
    found = OptionList(options if looked_through or count_units else options[:1], (), (frozenset({0, 1, 2}), looked_through), {})
    (cluster,) = joined([Member("1", found, False, 1)], ()).clusters
    ways = Clusters({}, (), SETTLED, COUNTED, count_units=count_units, shapes=Shapes()).ways(cluster)
    assert ways is not None
    assert len(ways) == left
