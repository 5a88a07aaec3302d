"""The trade-off front against plain enumeration of small networks, and on the harbor."""

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from random import Random

import pytest

from optiselect.errors import OptiselectError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.policy import Policy
from optiselect.study import Case, trade_off
from tests.solver.enumeration import Enumeration
from tests.solver.families import case
from tests.study.harbor import harbor

ORDER = ("links", "part_numbers", "cost", "strands")
SEEDS = [seed for seed in range(400) if len(case(seed)[0].wanted) == 2 or seed % 17 == 6][:120]


def small(seed):
    network, catalog, policy = case(seed)
    return Case(network, catalog, Policy(**policy.stated() | {"objective": ORDER}))


def climates(seed):
    """Two or three links between places of different climate, and modules that bear more the dearer they are."""
    draw = Random(seed)
    ports = [{"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]}]
    sites = [{"id": f"s{low}", "ambient_c": [low, 30], "building": "main"} for low in LOWS]
    devices, runs = [], []
    for number in range(draw.choice([2, 2, 3])):
        devices += [{"id": f"{end}{number}", "site": f"s{draw.choice(LOWS)}", "ports": ports} for end in "ab"]
        fiber = {"grade": "OS2", "length_m": 200, "strands": 2}
        runs.append({"id": f"R{number}", "ends": [f"a{number}", f"b{number}"], "fiber": fiber})
    figures = {"standard": "1000BASE-LX10", "form": "SFP", "rates": ["1G"], "connector": "LC", "power_w": 1, "laser_class": "1"}
    modules = [{"part": f"M{low}", "temperature_c": [low, 70], "price": 30 - low + draw.randint(0, 12), **figures} for low in LOWS]
    return Case(Network(sites=sites, devices=devices, runs=runs), Catalog(modules=modules), Policy(objective=ORDER))


LOWS = (10, 0, -10, -25)


def combinations(every, chosen, left):
    if not left:
        yield chosen
        return
    for way in every.ways[left[0].id]:
        if every.fits([*chosen, way]):
            yield from combinations(every, [*chosen, way], left[1:])
    yield from combinations(every, chosen, left[1:])


def enumerated(given):
    """Every combination that no other beats, among those that are best in all that comes first."""
    every = Enumeration(given.network, given.catalog, given.policy)
    place = every.names.index("part_numbers")
    scores = {every.score(ways)[: place + 2] for ways in combinations(every, [], every.links)}
    best = min(score[:place] for score in scores)
    points = sorted(score[place:] for score in scores if score[:place] == best)
    return [point for number, point in enumerate(points) if all(point[1] < other[1] for other in points[:number])]


@cache
def found(seed):
    return trade_off(small(seed))


@pytest.mark.parametrize("number", range(8))
def test_no_combination_beats_a_point_and_none_is_left_out(number):
    seeds = SEEDS[number::8]

    assert {seed: [(point.part_numbers, point.cost) for point in found(seed).points] for seed in seeds} == {seed: enumerated(small(seed)) for seed in seeds}


@pytest.mark.parametrize("seed", range(12))
def test_every_cheaper_mixture_of_climates_is_found(seed):
    assert [(point.part_numbers, point.cost) for point in trade_off(climates(seed)).points] == enumerated(climates(seed))


def test_mixtures_of_climates_have_points_between_the_two_ends():
    assert sum(len(trade_off(climates(seed)).points) > 2 for seed in range(12)) >= 4


def test_every_point_is_proven():
    assert all(point.proven for seed in SEEDS for point in found(seed).points)


def test_some_small_networks_have_something_to_trade():
    assert sum(len(found(seed).points) > 1 for seed in SEEDS) >= 5


def test_a_point_is_told_with_what_the_step_to_it_changes():
    front = trade_off(harbor(keep_installed="no"))

    assert front.text().splitlines() == [
        "2 part numbers: 572.00 EUR",
        "3 part numbers: 534.00 EUR, 38.00 EUR less: with NO-SX",
    ]


def test_the_front_is_the_same_on_an_executor():
    with ThreadPoolExecutor(2) as executor:
        assert trade_off(harbor(), executor) == trade_off(harbor())


@pytest.mark.parametrize("seed", range(4))
def test_a_front_may_end_early(seed):
    whole = trade_off(climates(seed)).points

    assert trade_off(climates(seed), up_to=whole[0].part_numbers + 1).points == whole[:2]


def test_the_front_as_a_table_has_a_row_a_point():
    frame = trade_off(harbor()).frame()

    assert frame["part_numbers"].is_monotonic_increasing
    assert frame["saved"].tolist()[1:] == (-frame["cost"].diff()).tolist()[1:]


def test_rules_of_the_user_cross_to_no_other_process():
    class Elsewhere(ThreadPoolExecutor.__mro__[1]):
        """Any executor that is not known to be threads."""

    with pytest.raises(OptiselectError, match="rules of your own are Python"):
        trade_off(harbor(rules=(bool,)), Elsewhere())
