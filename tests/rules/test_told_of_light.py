"""What is told of light and distance: whose figure is missing, what would end first, how much is needed and how much is there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from optiselect.model.policy import Policy
from optiselect.rules.distance import NO_LIMIT, Limit, copper_end_limit_m, dispersion_limit_m, passes_mbit_s
from optiselect.rules.fitted import FittedLink
from optiselect.rules.light import directions_of, path_loss_millidb, penalty_db
from tests.rules.fitting import LONG, attenuator, breaches, built_to, copper, fiber, light, link, sentences, told, with_end

LX10, SX = built_to("1000BASE-LX10"), built_to("1000BASE-SX")


def own(side: int, **figures: Any) -> FittedLink:
    """LONG at both ends of 40 km, with other figures at one of them."""
    return with_end(link(LONG, LONG, fiber(40_000)), side, light=figures)


MISSING = {
    "launch power of the sender": ("light-budget", own(0, tx_dbm_by_core=None), "core/1 to gate/1", "the launch power into that core of LONG"),
    "sensitivity of the receiver": ("light-budget", own(1, rx_dbm=None, part="far"), "core/1 to gate/1", "the sensitivity of LONG"),
    "wavelength of the sender": ("light-budget", own(0, tx_nm=None), "core/1 to gate/1", "the wavelength that LONG sends"),
    "launch power, for overload": ("overload", own(1, tx_dbm_by_core=None), "gate/1 to core/1", "the launch power into that core of LONG"),
    "overload level": ("overload", own(0, rx_dbm=None), "gate/1 to core/1", "the overload level of LONG"),
    "dispersion tolerance": (
        "dispersion",
        link(built_to("10GBASE-LR"), built_to("10GBASE-LR"), fiber(20_000)),
        "core/1",
        "the dispersion tolerance of 10GBASE-LR module",
    ),
    "published reach": ("reach", own(1, reach_m=None), "gate/1", "the published reach of LONG"),
}


@pytest.mark.parametrize(("rule_id", "fitted", "place", "datum"), MISSING.values(), ids=MISSING)
def test_missing_figure_is_told_with_whose_it_is(rule_id: str, fitted: FittedLink, place: str, datum: str) -> None:
    assert (place, datum, True) in [(path, available, unknown) for path, _, available, unknown in told(rule_id, fitted)]


def test_figure_of_the_one_end_is_not_asked_of_the_other() -> None:
    named = with_end(own(0, tx_dbm_by_core=None), 1, module=LONG.model_copy(update={"part": "FAR"}))
    assert told("light-budget", named) == [("core/1 to gate/1", None, "the launch power into that core of LONG", True)]
    named = with_end(own(1, rx_dbm=None), 1, module=LONG.model_copy(update={"part": "FAR"}))
    assert told("light-budget", named) == [("core/1 to gate/1", None, "the sensitivity of FAR", True)]
    assert told("overload", named)[0] == ("core/1 to gate/1", None, "the overload level of FAR", True)


def outside(*runs: dict[str, Any], **figures: Any) -> FittedLink:
    """A sender at 1640 nm, where no table has a figure."""
    return with_end(link(LONG, LONG, *runs), 0, light={"tx_nm": (1630, 1650), **figures})


def test_attenuation_that_no_table_has_is_asked_of_every_run() -> None:
    lost = "the attenuation of R1, R2 at 1630-1650 nm"
    assert told("light-budget", outside(fiber(100), fiber(100))) == [("core/1 to gate/1", None, lost, True)]
    overloads = [each for each in told("overload", outside(fiber(40_000), fiber(40_000))) if each[3]]
    assert overloads == [("core/1 to gate/1", 7.0, lost, True)]
    weak = {"tx_dbm_by_core": light("1000BASE-LX10", tx_dbm=(-9, -3)).tx_dbm_by_core}
    assert told("overload", outside(fiber(40_000), fiber(40_000), **weak)) == []  # it may arrive as it was sent


def test_loss_that_no_standard_publishes_for_the_glass_is_told() -> None:
    published = light("1000BASE-LX10").channel_loss_db
    assert published is not None
    bare = {"channel_loss_db": type(published)({"OM1": 2.0})}
    fitted = with_end(link(LX10, LX10, fiber(50), fiber(60, "OS1")), 0, light=bare)
    assert sentences("light-budget", fitted) == [
        "core/1 to gate/1: R1, R2 are OS1, OS2, and the standard of 1000BASE-LX10 module publishes no loss for it (none)"
    ]


def test_too_little_light_is_told_with_what_is_lost_and_what_is_there() -> None:
    assert sentences("light-budget", link(LONG, LONG, fiber(90_000)))[0] == (
        "core/1 to gate/1: R1 may lose 24 dB, and from LONG to LONG 21 dB are available, 3 dB short"
    )


def test_attenuator_that_is_due_counts_what_is_there_already() -> None:
    """4.5 dB of path and 1 dB fitted of the 7 dB that LONG needs."""
    plugged = replace(link(LONG, LONG, fiber(30_000), attenuators=(None, attenuator(1))), cords_stated=False)
    assert sentences("overload", plugged)[0] == (
        "core/1 to gate/1: 7 dB must be lost so that LONG does not overload LONG, and R1 may lose as little as 5.5 dB: "
        "an attenuator of 1.5 dB or more is needed"
    )


SINGLE = LONG.model_copy(update={"strands": 1})
WEAK = {"tx_dbm_by_core": light("1000BASE-LX10").tx_dbm_by_core}
FITTED = {
    "at a copper socket": (link(None, None, copper(10, "Cat6"), attenuators=(attenuator(5), None)), [("core/1", 0.0, 5.0, "not needed")]),
    "on two strands, where the path loses enough": (
        link(LONG, LONG, fiber(50_000), attenuators=(None, attenuator(3))),
        [("gate/1", 0.0, 3.0, "not needed")],
    ),
    "on two strands, where its own direction needs none": (
        with_end(link(LONG, LONG, fiber(100), attenuators=(attenuator(7), attenuator(7))), 1, light={"tx_dbm_by_core": light("1000BASE-LX10").tx_dbm_by_core}),
        [("core/1", 0.0, 7.0, "not needed")],
    ),
    "on one strand, where the other one does": (
        link(SINGLE, SINGLE, fiber(0, connections=0), attenuators=(attenuator(7), attenuator(3))),
        [("gate/1", 7.0, 3.0, "not needed")],
    ),
    "on one strand, where one direction alone needs it": (
        with_end(link(SINGLE, SINGLE, fiber(0, connections=0), attenuators=(attenuator(7), attenuator(3))), 1, light=WEAK),
        [("gate/1", 7.0, 3.0, "not needed")],
    ),
    "on one strand, due in one direction": (with_end(link(SINGLE, SINGLE, fiber(0, connections=0), attenuators=(attenuator(7), None)), 1, light=WEAK), []),
    "at a copper socket before glass": (link(None, None, fiber(10), attenuators=(attenuator(5), None)), [("core/1", 0.0, 5.0, "not needed")]),
    "at an optic before copper": (link(LONG, LONG, copper(10, "Cat6"), attenuators=(attenuator(5), None)), [("core/1", 0.0, 5.0, "not needed")]),
    "on one strand, both of them due": (link(SINGLE, SINGLE, fiber(0, connections=0), attenuators=(attenuator(4), attenuator(3))), []),
    "on one strand, where one direction is not known": (
        with_end(link(SINGLE, SINGLE, fiber(50_000), attenuators=(attenuator(3), None)), 1, light={"tx_nm": (1630, 1650)}),
        [("gate/1 to core/1", 7.0, "the attenuation of R1 at 1630-1650 nm", "")],
    ),
    "on one strand, where one launch power is not known": (
        with_end(link(SINGLE, SINGLE, fiber(50_000), attenuators=(attenuator(3), None)), 1, light={"tx_dbm_by_core": None}),
        [("gate/1 to core/1", None, "the launch power into that core of LONG", "")],
    ),
}


@pytest.mark.parametrize(("fitted", "said"), FITTED.values(), ids=FITTED)
def test_attenuator_is_there_where_it_is_needed_and_nowhere_else(fitted: FittedLink, said: list[tuple[object, ...]]) -> None:
    assert [(breach.path, breach.required, breach.available, breach.case) for breach in breaches("overload", fitted)] == said


def test_mode_that_one_end_refuses_is_no_matter_of_light() -> None:
    assert breaches("light-budget", link(LX10, SX, fiber(100_000))) == []
    reaching = built_to("1000BASE-LX10", reach_m={"OM3": 300})  # says nothing of lower grades of that core
    assert breaches("light-budget", link(reaching, reaching, fiber(10_000, "OM2"), fiber(10_000, "OM3"))) == []


# What a plan prints


def test_unknown_figure_leaves_out_what_follows_from_it_and_nothing_else() -> None:
    (there, back) = directions_of(own(0, tx_dbm_by_core=None))
    assert (there.loss_max_db, there.available_db, there.margin_db, there.rx_dbm) == (11.5, None, None, (None, None))
    assert (back.available_db, back.margin_db, back.rx_dbm) == (21.0, 9.5, (-11.5, -2.0))
    (there, _) = directions_of(own(0, tx_nm=None))
    assert (there.loss_min_db, there.loss_max_db, there.available_db, there.margin_db, there.rx_dbm) == (None, None, 21.0, None, (None, None))


def test_design_margin_comes_off_where_nothing_is_published() -> None:
    receiver = light("10GBASE-LR", rx_dbm=(-18.2, 0.5))
    assert [penalty_db(receiver, ("OS2",), Policy(design_margin_db=db)) for db in (0, 3)] == [0, 3]


@pytest.mark.parametrize(("sent_dbm", "length_m", "harmful"), [(5.0, 0, False), (5.001, 0, True), (5.15, 1000, False), (5.2, 1000, True)])
def test_level_that_harms_a_receiver_of_which_nothing_is_stated(sent_dbm: float, length_m: float, harmful: bool) -> None:
    """5 dBm: common practice, no source. A km takes 0.15 dB at least, and 0.25 at most."""
    strong = LONG.model_copy(update={"tx_dbm": (0, sent_dbm)})
    assert [each.is_harmful for each in directions_of(link(strong, LONG, fiber(length_m, connections=0)))] == [harmful, False]


def ends_first(
    length_m: float = 1000, grades: tuple[str, ...] = ("OS2",), run: dict[str, Any] | None = None, policy: Policy | None = None, **figures: Any
) -> str | None:
    runs = [fiber(length_m, grade, **(run or {})) for grade in grades]
    return directions_of(with_end(with_end(link(LONG, LONG, *runs, policy=policy), 0, light=figures), 1, light={"reach_m": figures.get("reach_m")}))[
        0
    ].limited_by


SPREAD = {"rate": "10G", "dispersion_ps_nm": None}
REACH = type(light("1000BASE-LX10").reach_m)
NOTHING: dict[str, Any] = {"reach_m": None, "tx_dbm_by_core": None}


def test_nothing_is_named_as_the_first_to_end_where_nothing_is_known() -> None:
    assert ends_first(**NOTHING) is None
    assert ends_first(**NOTHING, dispersion_ps_nm=800) == "dispersion"
    assert ends_first(reach_m=None) == "light-budget"
    unknown = {"tx_nm": (1630, 1650)}  # measured loss stands for what no table has, and nobody knows what a km more costs
    assert ends_first(run={"measured_loss_db": {1640: 2}}, reach_m=None, **unknown) is None


def test_of_what_ends_at_one_length_the_reach_is_named() -> None:
    bears = dispersion_limit_m(replace(light("1000BASE-LX10"), tx_nm=(1540, 1560), dispersion_ps_nm=800), ("OS2",)).value
    assert bears is not None
    assert ends_first(reach_m=REACH({"single-mode": bears}), dispersion_ps_nm=800) == "reach"
    assert ends_first(reach_m=REACH({"single-mode": bears + 1}), dispersion_ps_nm=800) == "dispersion"


@pytest.mark.parametrize(("reach_m", "first"), [(78_001, "light-budget"), (77_999, "reach")])
def test_light_ends_where_the_margin_is_used_up_by_the_worst_grade(reach_m: float, first: str) -> None:
    """21 dB less two connections of 0.75 dB are 19.5 dB: at 0.25 dB/km, 78 km."""
    assert ends_first(reach_m=REACH({"single-mode": reach_m})) == first


def test_light_ends_by_the_grade_that_loses_most_by_the_km() -> None:
    table = Policy(attenuation={"OS1": {"1260-1625": 1.0}, "OS2": {"1260-1625": 0.25}})
    reach = {"reach_m": REACH({"single-mode": 30_000})}
    assert ends_first(grades=("OS1", "OS2"), policy=table, **reach) == "light-budget"  # 2 km, and 17.5 dB at 1 dB/km
    assert ends_first(grades=("OS2", "OS2"), policy=table, **reach) == "reach"


def test_run_of_which_the_loss_is_not_known_leaves_the_path_unknown() -> None:
    assert path_loss_millidb(link(LX10, LX10, fiber(100), fiber(100, "OM1")).path, (1540, 1560), Policy()) is None


# Distance


def test_reach_that_is_not_published_for_the_grade_is_told_with_the_grades_that_lack_it() -> None:
    some = built_to("1000BASE-SX", reach_m={"OM3": 500})
    assert sentences("reach", link(some, some, fiber(50, "OM2"), fiber(50, "OM3")))[0] == (
        "core/1: R1, R2 are 100 m long, and no reach on OM2 is published for 1000BASE-SX module"
    )
    assert told("reach", link(some, some, fiber(50, "OM2")))[0] == ("core/1", 50.0, 0.0, False)


def test_fiber_of_too_low_a_modal_bandwidth_has_no_row() -> None:
    poor = fiber(50, "OM1", modal_bandwidth_mhz_km={850: 20})
    assert sentences("reach", link(SX, SX, poor))[0] == (
        "core/1: R1 is 50 m long, and no reach on a fiber of that modal bandwidth is published for 1000BASE-SX module"
    )


def test_light_is_asked_of_the_runs_that_have_a_row() -> None:
    poor = fiber(20, "OM1", modal_bandwidth_mhz_km={850: 20})
    mixed = link(SX, SX, poor, fiber(20, "OM1"))
    assert breaches("light-budget", mixed) == []
    assert [breach.case for breach in breaches("reach", mixed)] == ["no reach", "no reach"]


@pytest.mark.parametrize(
    ("reach_m", "category", "limit"),
    [
        ({"Cat6": 100}, "Cat6", Limit(100)),
        ({"Cat6": 100}, "Cat5e", Limit(None)),  # not supported
        ({"Cat6": 100}, "twisted-pair", Limit(None, "category of the cable")),
        ({"twisted-pair": 50}, "twisted-pair", Limit(50)),
        (None, "Cat6", Limit(None, "published reach")),
    ],
)
def test_copper_module_reaches_as_far_as_is_published_for_the_cable(reach_m: dict[str, float] | None, category: Any, limit: Limit) -> None:
    module = replace(light("1000BASE-LX10"), medium="copper", reach_m=None if reach_m is None else REACH(reach_m))
    assert copper_end_limit_m(module, "1G", category) == limit


def test_mode_that_is_refused_on_one_of_the_grades_is_no_matter_of_reach() -> None:
    reaching = built_to("1000BASE-LX10", reach_m={"OM3": 300})
    assert breaches("reach", link(reaching, reaching, fiber(10, "OM2"), fiber(10, "OM3"))) == []


def test_dispersion_counts_on_any_single_mode_fiber_of_the_path() -> None:
    lr = replace(light("10GBASE-LR"), dispersion_ps_nm=30)
    assert dispersion_limit_m(lr, ("OM3",)) == NO_LIMIT
    assert dispersion_limit_m(lr, (None,)) == NO_LIMIT
    assert dispersion_limit_m(lr, ("OM3", "OS2")) == dispersion_limit_m(lr, ("OS2",)) != NO_LIMIT
    assert dispersion_limit_m(replace(lr, tx_nm=None), ("OS2",)) == Limit(0.0, "sent wavelength")


def test_dispersion_is_told_with_what_it_adds_up_to() -> None:
    """At 1550 nm and above, 17.3 to 18.7 ps/(nm km) at most: worked out of ITU-T G.652, Table 2, for the edge that is worst, 1560 nm."""
    fitted = with_end(link(LONG, LONG, fiber(61_234.567)), 0, light={"dispersion_ps_nm": 800.0})
    (breach,) = breaches("dispersion", fitted)
    worst = 0.092 / 4 * (1560 - 1300**4 / 1560**3)
    assert (breach.path, breach.required, breach.available) == ("core/1 to gate/1", round(worst * 61.234567, 3), 800.0)
    assert (breach.facts["limit_m"], breach.facts["receiver"], breach.facts["length_m"]) == (round(800 / worst * 1000, 3), "gate/1", 61_234.567)


def test_copper_is_told_with_its_length_and_what_is_reached() -> None:
    assert sentences("copper-reach", link(None, None, copper(70, "Cat6"), copper(50, "Cat6")))[0] == (
        "core/1: R1, R2 are 120 m long, and the copper socket reaches 100 m on Cat6 at 1G"
    )
    unknown = link(None, None, copper(70, "twisted-pair"), copper(50, "twisted-pair"))
    assert told("copper-reach", unknown)[0] == ("core/1", 120.0, "the category of the cable of R1, R2", True)


def test_end_that_lets_least_through_is_named_and_the_first_of_two_alike() -> None:
    slow = {"throughput_mbit_s": type(light("1000BASE-LX10").reach_m)({100_000: 10.0})}
    both = with_end(with_end(link(LONG, LONG, fiber(100)), 0, light=slow), 1, light=slow)
    assert (passes_mbit_s(both)[0], passes_mbit_s(both)[1].name) == (10.0, "core/1")
    assert passes_mbit_s(with_end(both, 0, light={"throughput_mbit_s": None}))[1].name == "gate/1"


def test_link_that_lets_nothing_through_is_told_with_its_runs() -> None:
    figures = {"throughput_mbit_s": type(light("1000BASE-LX10").reach_m)({50: 10.0})}
    plain = link(LONG, LONG, fiber(40), fiber(60))
    for side in (0, 1):
        (breach,) = breaches("throughput", with_end(plain, side, light=figures))
        assert (breach.path, breach.required, breach.available, breach.facts["runs"]) == ("core/1 to gate/1", "something", 0.0, ("R1", "R2"))
    assert breaches("throughput", with_end(link(LONG, LONG, fiber(40)), 0, light=figures)) == []


def test_link_that_lets_through_less_than_it_needs_is_told() -> None:
    figures = {"throughput_mbit_s": type(light("1000BASE-LX10").reach_m)({50: 0.5})}
    assert breaches("throughput", with_end(link(LONG, LONG, fiber(40)), 0, light=figures)) == []  # nothing is asked, and something passes
    asked = with_end(link(LONG, LONG, fiber(40), throughput_mbit_s=1), 0, light=figures)
    assert told("throughput", asked) == [("core/1 to gate/1", 1.0, 0.5, False)]
