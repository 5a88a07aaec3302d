"""Variants by product, draw and removal."""

import pytest

from optiselect.errors import DocumentError
from optiselect.study.edits import Remove, Set
from optiselect.study.variants import Spread, Variant
from tests.study.harbor import harbor


def test_a_product_has_every_combination_once():
    variants = Variant.product({"policy.design_margin_db": [0, 3, 6], "runs.F1.fiber.length_m": [500, 900]})

    assert [tuple(variant.settings.values()) for variant in variants] == [(margin, length) for margin in (0, 3, 6) for length in (500, 900)]
    assert variants[0].name == "policy.design_margin_db=0; runs.F1.fiber.length_m=500"


def test_an_axis_may_name_its_edits():
    (plain, new) = Variant.product({"fiber": {"as it is": [], "all new": Set("runs.*.fiber.grade", "OS2")}})

    assert plain.applied_to(harbor()) == harbor()
    assert {run.fiber.grade for run in new.applied_to(harbor()).network.runs} == {"OS2"}


SPREADS = [
    (
        Spread(place="runs.*.fiber.length_m", low=0.9, high=1.1),
        lambda case: [run.fiber.length_m / 900 for run in case.network.runs if run.id == "F1"],
        0.9,
        1.1,
    ),
    (Spread(place="parts.*.price", low=-5, high=5, of="addition"), lambda case: [part.price - 40 for part in case.catalog.modules[:1]], -5, 5),
    (Spread(place="policy.design_margin_db", low=1, high=6, of="value"), lambda case: [case.policy.design_margin_db], 1, 6),
]


@pytest.mark.parametrize(("spread", "drawn", "low", "high"), SPREADS)
def test_draws_stay_within_their_range_and_differ(spread, drawn, low, high):
    values = [value for variant in Variant.draws(harbor(), spread, 20) for value in drawn(variant.applied_to(harbor()))]

    assert low - 1e-3 <= min(values) < max(values) <= high + 1e-3
    assert len(set(values)) > 10


def test_the_same_seed_draws_the_same_whatever_else_is_drawn():
    lengths = Spread(place="runs.*.fiber.length_m", low=0.9, high=1.1)
    prices = Spread(place="parts.*.price", low=0.9, high=1.1)
    alone, beside = Variant.draws(harbor(), lengths, 3, seed=7), Variant.draws(harbor(), [prices, lengths], 3, seed=7)

    assert [variant.edits for variant in alone] == [variant.edits[-len(alone[0].edits) :] for variant in beside]
    assert alone != Variant.draws(harbor(), lengths, 3, seed=8)


def test_a_spread_that_runs_backwards_is_refused():
    with pytest.raises(DocumentError, match="write the lower end of the range first"):
        Variant.draws(harbor(), Spread(place="parts.*.price", low=1.1, high=0.9), 1)


def test_removals_take_each_run_and_each_route_in_turn():
    removed = [variant.edits for variant in Variant.removals(harbor())]

    assert removed == [(Remove(f"runs.F{number}"),) for number in (1, 2, 3, 4, 5, 7)] + [(Remove("routes.duct-1"),), (Remove("routes.duct-2"),)]


def test_a_variant_survives_being_written_as_json():
    variant = Variant.product({"policy.design_margin_db": [0.5], "fiber": {"cut": Remove("runs.F1")}})[0]

    assert Variant.model_validate_json(variant.model_dump_json()) == variant
