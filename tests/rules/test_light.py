"""Enough light, and not too much, in each direction."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.model.catalog import Attenuator, Module
from optiselect.model.policy import Policy
from optiselect.optics.budget import run_loss_pico
from optiselect.optics.decibels import to_millidecibel
from optiselect.rules.distance import NOT_SUPPORTED, Limit
from optiselect.rules.light import available_db, directions_of, excess_db, path_loss_millidb
from optiselect.standards.pmd import pmd, pmd_names
from tests.rules.fitting import LONG, attenuator, breaches, built_to, copper, fiber, holds, light, link, sentences

POLICY = Policy()
SINGLE = LONG.model_copy(update={"strands": 1})


# What is available


@pytest.mark.parametrize(
    ("sender", "receiver", "db"),
    [
        ("1000BASE-LX", "1000BASE-LX10", 4.0),  # -11.0 + 19.5 - 4.5
        ("1000BASE-LX10", "1000BASE-LX", 6.73),  # -9.0 + 19.0 - 3.27
    ],
)
def test_a_mixed_pair_is_computed_by_direction(sender: str, receiver: str, db: float) -> None:
    """LX with LX10: the worse transmitter against the other's receiver (derived from IEEE 802.3 Clauses 38 and 59; the LX10 figures from memory)."""
    assert available_db(light(sender), light(receiver), ("OS2",), "9", POLICY) == Limit(db)


@pytest.mark.parametrize(
    ("standard", "grade", "core", "db"),
    [
        ("1000BASE-LX10", "OS2", "9", 6.0),  # IEEE 802.3 Clause 59, from memory
        ("1000BASE-SX", "OM2", "50", 3.56),  # IEEE 802.3 Clause 38, Table 38-5
        ("10GBASE-SR", "OM4", "50", 2.9),  # IEEE 802.3 Clause 52, Table 52-10
        ("10GBASE-ER", "OS2", "9", 11.0),  # IEEE 802.3 Clause 52, Table 52-24
    ],
)
def test_two_ends_of_one_standard_have_its_published_channel_loss(standard: str, grade: str, core: str, db: float) -> None:
    assert available_db(light(standard), light(standard), (grade,), core, POLICY) == Limit(db)  # type: ignore[arg-type]


@pytest.mark.parametrize(("sender", "receiver", "db"), [("D", "U", 5.5), ("U", "D", 6.0)])
def test_the_two_kinds_of_one_strand_are_of_one_standard(sender: str, receiver: str, db: float) -> None:
    """1000BASE-BX10: 5.5 dB from D to U, 6.0 dB from U to D (IEEE 802.3 Clause 59)."""
    assert available_db(light(f"1000BASE-BX10-{sender}"), light(f"1000BASE-BX10-{receiver}"), ("OS2",), "9", POLICY) == Limit(db)


def test_a_path_of_several_grades_has_the_least_channel_loss() -> None:
    """10GBASE-SR: 2.6 dB on OM3, 2.9 dB on OM4 (IEEE 802.3 Clause 52, Table 52-10)."""
    assert available_db(light("10GBASE-SR"), light("10GBASE-SR"), ("OM3", "OM4"), "50", POLICY) == Limit(2.6)


def test_powers_of_its_own_are_computed_with_the_penalty_of_the_standard_whose_sensitivity_stands() -> None:
    sender = light("1000BASE-LX10", tx_dbm=(-6, -3))
    assert available_db(sender, light("1000BASE-LX10"), ("OS2",), "9", POLICY) == Limit(9.0)  # -6 + 19.5 - 4.5


@pytest.mark.parametrize(("own", "db"), [({}, 7.0), ({"penalty_db": 1.5}, 8.5), ({"penalty_db": {"OS2": 2.0}}, 8.0)])
def test_a_sensitivity_of_its_own_takes_its_own_penalty_or_the_design_margin(own: dict[str, object], db: float) -> None:
    """A maker's sensitivity is usually back to back, so something comes off: what it states, else 3 dB."""
    receiver = light("10GBASE-LR", rx_dbm=(-18.2, 0.5), **own)
    assert available_db(light("10GBASE-LR"), receiver, ("OS2",), "9", POLICY) == Limit(db)  # -8.2 + 18.2 - penalty


def test_a_penalty_by_grade_counts_at_its_greatest() -> None:
    """1000BASE-SX penalties: 4.07 dB on 50/400/400, 3.57 on OM2 (IEEE 802.3 Clause 38, Table 38-5)."""
    sender = light("1000BASE-SX", tx_dbm=(-9.5, -1))
    assert available_db(sender, light("1000BASE-SX"), ("50/400/400", "OM2"), "50", POLICY) == Limit(3.43)  # 7.5 - 4.07


def test_a_launch_power_may_depend_on_the_core() -> None:
    """100BASE-FX launches -20 dBm into 62.5 um and -23.5 dBm into 50 um (ISO/IEC 9314-3): 3.5 dB less arrives."""
    sender, receiver = light("100BASE-FX"), light("100BASE-FX", rx_dbm=(-31, -14), penalty_db=0)
    wide, narrow = (available_db(sender, receiver, (grade,), core, POLICY).value for grade, core in (("OM1", "62.5"), ("OM2", "50")))  # type: ignore[arg-type]
    assert (wide, narrow) == (11.0, 7.5)


def test_a_grade_without_a_published_loss_is_not_supported() -> None:
    lx = light("1000BASE-LX", channel_loss_db={"OM2": 2.35})
    assert available_db(lx, lx, ("OM1",), "62.5", POLICY) == NOT_SUPPORTED


def test_unknown_powers_are_unknown() -> None:
    """10GBASE-BR10: powers were not found in print and are not remembered."""
    budget = available_db(light("10GBASE-BR10-D"), light("10GBASE-BR10-U"), ("OS2",), "9", POLICY)
    assert budget == Limit(None, "launch power into that core")


@pytest.mark.parametrize("name", [name for name in pmd_names() if pmd(name).figures.channel_loss_db])
def test_every_published_reach_has_light_enough_at_its_end(name: str) -> None:
    """Two connections of 0.75 dB and the default table; the exceptions are those that the next test states."""
    far = name[:-1] + {"D": "U", "U": "D"}[name[-1]] if name.endswith(("-D", "-U")) else name
    reaches = pmd(name).figures.reach_m or {}
    runs = [fiber(metres, "OS2" if grade == "single-mode" else grade) for grade, metres in reaches.items()]
    short = {(run["fiber"]["grade"], breach.facts["short"]) for run in runs for breach in breaches("light-budget", link(built_to(name), built_to(far), run))}
    assert short == EXCEPTIONS.get(name, set())


EXCEPTIONS = {
    "40GBASE-SR4": {("OM4", 0.525)},  # its 1.5 dB on OM4 at 150 m assumes 1.0 dB of connections (IEEE 802.3 Clause 86)
    "10GBASE-ER": {("OS2", 0.5)},  # 11.0 dB carry 38 km of 0.25 dB/km with two connections, not the 40 km
}


# The loss of a path


def test_the_loss_of_a_chain_is_rounded_once() -> None:
    """Three runs of 0.4 dB/km over 101.25 m are 0.1215 dB together; a joint counts once, with the run before it."""
    chain = link(built_to("1000BASE-LX10"), built_to("1000BASE-LX10"), *(fiber(101.25) for _ in range(3)))
    assert path_loss_millidb(chain.path, (1300, 1320), POLICY) == (85, 3122)  # 0.28 x 0.30375; 0.1215 + 4 x 0.75


@pytest.mark.parametrize("window_nm", [(1300, 1320), (1540, 1560), (845, 855), (1600, 1700)])
@pytest.mark.parametrize(
    "odd", [{}, {"grade": "OS1"}, {"splices": 2}, {"connections": 4}, {"attenuation_db_km": {1310: 0.33}}, {"measured_loss_db": {1550: 2.0}}]
)
def test_the_loss_of_a_chain_is_that_of_its_runs_together(odd: dict[str, Any], window_nm: tuple[float, float]) -> None:
    path = link(built_to("1000BASE-LX10"), built_to("1000BASE-LX10"), fiber(812.345), fiber(20.001, **odd), fiber(3.5)).path
    policy = Policy(repair_allowance_db=0.6)
    runs = [run_loss_pico(run.fiber, window_nm, path.connections_of(index), policy) for index, run in enumerate(path.runs)]
    columns = None if None in runs else list(zip(*runs, strict=True))
    together = columns and (to_millidecibel(sum(columns[0])), to_millidecibel(sum(columns[1]) + 600_000_000_000))
    assert path_loss_millidb(path, window_nm, policy) == together


def test_copper_loses_no_light_that_is_known() -> None:
    assert path_loss_millidb(link(None, None, copper(20, "Cat6")).path, (1300, 1320), POLICY) is None


def test_a_repair_allowance_comes_on_top_of_the_greatest_loss_only() -> None:
    plain, repaired = (path_loss_millidb(link(LONG, LONG, fiber(1000)).path, (1540, 1560), Policy(repair_allowance_db=db)) for db in (0, 0.6))
    assert (plain, repaired) == ((150, 1750), (150, 2350))


def test_a_margin_of_exactly_nothing_holds() -> None:
    """10GBASE-SR on OM4 at 400 m with two connections: 2.9 - 1.5 - 0.4 x 3.5 = 0 (IEEE 802.3 Clause 52, Table 52-10)."""
    sr = built_to("10GBASE-SR", form="SFP+")
    at_the_end = link(sr, sr, fiber(400, "OM4"))
    assert holds("light-budget", at_the_end)
    assert [direction.margin_db for direction in directions_of(at_the_end)] == [0.0, 0.0]


def test_one_thousandth_short_is_short() -> None:
    sr = built_to("10GBASE-SR", form="SFP+")
    run = fiber(400, "OM4", measured_loss_db={850: 2.901})
    assert [breach.facts["short"] for breach in breaches("light-budget", link(sr, sr, run))] == [0.001, 0.001]


# Too much of it


@pytest.mark.parametrize(
    ("sent_most_dbm", "overload_dbm", "db"),
    [
        (4, -3, 7.0),  # a 70 km class: +4 dBm before -3 dBm needs 7 dB (a maker's guide)
        (5, -3, 8.0),  # a long-haul class of the same guide
    ],
)
def test_the_loss_that_must_be_there(sent_most_dbm: float, overload_dbm: float, db: float) -> None:
    sender = light("1000BASE-LX10", tx_dbm=(-5, sent_most_dbm))
    assert excess_db(sender, light("1000BASE-LX10", rx_dbm=(-24, overload_dbm)), "9") == Limit(db)


@pytest.mark.parametrize(("standard", "db"), [("10GBASE-ER", 5.0), ("10GBASE-LR", 0.0), ("1000BASE-LX", 0.0)])
def test_what_the_standards_need_back_to_back(standard: str, db: float) -> None:
    """ER needs 5 dB, LR and LX nothing (derived: IEEE 802.3 Clause 52, Tables 52-16 and 52-17; Clauses 38, 52)."""
    assert excess_db(light(standard), light(standard), "9") == Limit(db)


def test_32_km_do_not_tame_a_70_km_module() -> None:
    """Its maker counts 32 km at 0.25 dB/km as 8 dB, and 7 dB would do; at the least plausible 0.15 dB/km they are 4.8 dB."""
    assert sentences("overload", link(LONG, LONG, fiber(32_000)))[0] == (
        "core/1 to gate/1: 7 dB must be lost so that LONG does not overload LONG, and R1 may lose as little as 4.8 dB"
    )


@pytest.mark.parametrize(("fitted", "breached"), [((None, None), 2), ((None, 7), 1), ((7, None), 1), ((7, 7), 0), ((5, 7), 1)])
def test_on_two_strands_each_receiver_needs_its_own_attenuator(fitted: tuple[float | None, float | None], breached: int) -> None:
    items = tuple(None if loss_db is None else attenuator(loss_db) for loss_db in fitted)
    assert len(breaches("overload", link(LONG, LONG, fiber(100), attenuators=items))) == breached  # type: ignore[arg-type]


def test_on_one_strand_one_attenuator_serves_both_directions() -> None:
    assert holds("overload", link(SINGLE, SINGLE, fiber(100), attenuators=(attenuator(7), None)))


def test_an_attenuator_counts_against_the_budget_too() -> None:
    drowned = link(LONG, LONG, fiber(1000), attenuators=(None, attenuator(20)))
    assert [(breach.path, breach.required, breach.available) for breach in breaches("light-budget", drowned)] == [("core/1 to gate/1", 21.75, 21.0)]


@pytest.mark.parametrize(
    ("fitted", "policy", "said"),
    [
        (attenuator(5), {}, "gate/1: attenuator ATT-5 takes 5 dB, and 0 dB are needed before 1000BASE-LX10 module"),
        (attenuator(5), {"allow_attenuators": False}, "gate/1: the policy allows no attenuator, and ATT-5 is there before 1000BASE-LX10 module"),
    ],
)
def test_an_attenuator_that_should_not_be_there(fitted: Attenuator, policy: dict[str, object], said: str) -> None:
    lx10 = built_to("1000BASE-LX10")
    assert sentences("overload", link(lx10, lx10, fiber(1000), policy=Policy(**policy), attenuators=(None, fitted))) == [said]


def test_an_attenuator_has_the_connector_of_the_module() -> None:
    wrong = link(LONG, LONG, fiber(100), attenuators=(attenuator(7), attenuator(7, connector="SC")))
    assert sentences("overload", wrong) == ["gate/1: LONG takes an attenuator of LC, single-mode, and ATT-7 is of SC, single-mode"]


def test_a_second_attenuator_on_one_strand_is_one_too_many() -> None:
    doubled = link(SINGLE, SINGLE, fiber(100), attenuators=(attenuator(7), attenuator(7)))
    assert [breach.case for breach in breaches("overload", doubled)] == ["not needed", "not needed"]


def test_copper_takes_no_attenuator() -> None:
    assert [breach.case for breach in breaches("overload", link(None, None, copper(10, "Cat6"), attenuators=(attenuator(5), None)))] == ["not needed"]


# What a plan prints


def test_every_figure_of_a_direction() -> None:
    (there, _) = directions_of(link(LONG, LONG, fiber(10_000, connections=2), attenuators=(attenuator(7), attenuator(7))))
    assert (there.sender.name, there.receiver.name, there.wavelength_nm) == ("core/1", "gate/1", (1540, 1560))
    assert (there.loss_min_db, there.loss_max_db) == (8.5, 11.0)  # 10 km x 0.15 + 7; 10 km x 0.25 + 1.5 + 7
    assert (there.available_db, there.margin_db) == (21.0, 10.0)  # 0 + 24 - 3
    assert there.rx_dbm == (-11.0, -4.5)
    assert there.overload_dbm == -3
    assert not there.is_harmful


@pytest.mark.parametrize(
    ("module", "run", "rule_id"),
    [
        (built_to("1000BASE-LX10"), fiber(1000), "reach"),
        (built_to("1000BASE-LX10"), fiber(1000, connections=6), "light-budget"),
        (built_to("10GBASE-LR", dispersion_ps_nm=30), fiber(1000), "dispersion"),
    ],
)
def test_what_would_end_first_if_the_path_grew(module: Module, run: dict[str, object], rule_id: str) -> None:
    assert {direction.limited_by for direction in directions_of(link(module, module, run))} == {rule_id}


def test_light_that_burns_a_receiver_is_told() -> None:
    """10GBASE-ER: damage from +4.0 dBm on (IEEE 802.3 Clause 52, Table 52-17); back to back just not beyond it."""
    er, weak = built_to("10GBASE-ER"), built_to("10GBASE-ER", part="weak", rx_damage_dbm=3.9)
    fitted = link(er, weak, fiber(0, connections=0))
    protected = link(er, weak, fiber(0, connections=0), attenuators=(attenuator(10), attenuator(10)))
    assert [direction.is_harmful for direction in directions_of(fitted)] == [True, False]
    assert [direction.is_harmful for direction in directions_of(protected)] == [True, False]  # whoever joins it fits the attenuator first


def test_copper_has_no_light() -> None:
    assert directions_of(link(None, None, copper(10, "Cat6"))) == ()


@given(length_m=st.integers(0, 90_000), connections=st.integers(0, 8), attenuation=st.sampled_from([0, 3, 5, 7, 10]))
def test_a_margin_that_is_not_negative_is_the_rule(length_m: int, connections: int, attenuation: int) -> None:
    """The printed margin and the rule never disagree, nor the printed level and the overload rule."""
    item = attenuator(attenuation) if attenuation else None
    fitted = link(LONG, LONG, fiber(length_m, connections=connections), attenuators=(item, item))
    there, _ = directions_of(fitted)
    assert there.margin_db is not None
    assert there.rx_dbm[1] is not None
    assert (there.margin_db >= 0) == holds("light-budget", fitted)
    assert (there.rx_dbm[1] > -3) == any(breach.case == "" for breach in breaches("overload", fitted))


def test_a_bandwidth_below_every_row_has_no_published_loss() -> None:
    assert available_db(light("1000BASE-SX"), light("1000BASE-SX"), (), "62.5", POLICY) == NOT_SUPPORTED


def test_an_attenuator_is_needed_where_the_least_loss_leaves_too_much_light() -> None:
    """30 km lose 4.5 dB at least and 9 dB at most, and 7 dB must be lost: with 9 dB the receiver would bear it, with 4.5 dB it would not."""
    assert holds("overload", link(LONG, LONG, fiber(30_000), attenuators=(attenuator(3), attenuator(3))))
    assert len(breaches("overload", link(LONG, LONG, fiber(30_000)))) == 2
