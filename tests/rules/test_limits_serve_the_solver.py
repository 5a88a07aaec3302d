"""The limits that the solver compares in bulk and the checks of single links are one: neither serves what the other refuses."""

from itertools import product
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from optiselect.model.catalog import Attenuator, Catalog, Cord, Module
from optiselect.model.policy import Policy
from optiselect.rules import PAIR_RULES, PATH_RULES
from optiselect.rules.fitted import FittedLink
from optiselect.rules.rule import Breach, Rule
from optiselect.solver import distances
from optiselect.solver.distances import NOT_SERVED, Row, attenuator_positions, copper_codes, fiber_codes, rests_on_unknown, strands_free
from optiselect.solver.pairs import WHATEVER_THE_CORDS, Accessories, Pair
from optiselect.standards.pmd import pmd
from tests.rules.fitting import copper, fiber, link

GIGABIT = ["1000BASE-SX", "1000BASE-LX", "1000BASE-LX10", "1000BASE-BX10-D", "1000BASE-BX10-U"]
TEN = ["10GBASE-SR", "10GBASE-LRM", "10GBASE-LR", "10GBASE-ER", "10GBASE-BR10-D", "10GBASE-BR10-U"]
ATTENUATORS = tuple(
    Attenuator(part=f"ATT-{mode}-{db:g}", mode=mode, connector="LC", loss_db=db) for mode in ("single-mode", "multimode") for db in (3, 7.5, 15)
)  # type: ignore[arg-type]
own_figures = st.fixed_dictionaries(
    {},
    optional={
        "tx_dbm": st.sampled_from([(-9, 0.5), (-5, 2), (0, 4)]),
        "rx_dbm": st.sampled_from([(-18.5, -8), (-24, -3), (-24, 0)]),
        "reach_m": st.sampled_from([{"single-mode": 40_000}, {"OM2": 2000}, {"multimode": 300}]),
        "dispersion_ps_nm": st.sampled_from([20, 800]),
        "throughput_mbit_s": st.just({500: 60, 5000: 10}),
    },
)
CORDS = [
    None,
    Cord(part="C-OM3", grade="OM3", strands=2, connectors=("LC", "SC")),
    Cord(part="C-MC", grade="OS2", strands=2, connectors=("LC", "LC"), conditioning=True),
    Cord(part="C-1", grade="OS2", strands=1, connectors=("LC", "SC"), polish=("UPC", "APC")),
]
lengths = st.sampled_from([0, 30, 82, 300, 550, 551, 5000, 9000, 20_000, 38_000])
grades = st.sampled_from(["OS2", "OS1", "OM1", "OM2", "OM3", "OM4", "50/400/400"])
measured = st.fixed_dictionaries(
    {}, optional={"measured_loss_db": st.sampled_from([{1310: 1.0}, {1550: 8.0}]), "modal_bandwidth_mhz_km": st.sampled_from([{850: 120}, {850: 220}])}
)
policies = st.builds(Policy, allow_attenuators=st.booleans(), repair_allowance_db=st.sampled_from([0, 0.4]), design_margin_db=st.sampled_from([0, 3]))


def module(part: str, standard: str, own: dict[str, Any]) -> Module:
    return Module(**{"part": part, "standard": standard, "form": "SFP+", "connector": "LC", "rates": pmd(standard).figures.rates, **own})


pairs = st.sampled_from([GIGABIT, TEN]).flatmap(
    lambda family: st.tuples(
        st.builds(module, st.just("A"), st.sampled_from(family), own_figures), st.builds(module, st.just("B"), st.sampled_from(family), own_figures)
    )
)


def told(fitted: FittedLink) -> list[Breach]:
    """What the rules of pair and path say, waivers aside."""
    return [breach for rule in (*PAIR_RULES, *PATH_RULES) for breach in rule.check(fitted)]


def served(fitted: FittedLink) -> bool:
    return all(breach.unknown for breach in told(fitted))


def with_attenuators(fitted: FittedLink, at_a: Attenuator | None, at_b: Attenuator | None) -> FittedLink:
    return FittedLink(fitted.asked, fitted.a._replace(attenuator=at_a), fitted.b._replace(attenuator=at_b))


STRONG = tuple(module(part, f"1000BASE-BX10-{role}", {"tx_dbm": (-5, 2)}) for part, role in ("AD", "BU"))
"""Between them 5 dB are missing on a short strand: 3 dB twice, or 7.5 dB, of which the budget bears the first only."""


@settings(max_examples=300, deadline=None)
@example(modules=STRONG, grade="OS2", length_m=300, figures={}, policy=Policy(repair_allowance_db=0.4, design_margin_db=0), wanted=None)
@given(modules=pairs, grade=grades, length_m=lengths, figures=measured, policy=policies, wanted=st.sampled_from([None, 20.0]))
def test_light_over_fiber(modules: tuple[Module, Module], grade: str, length_m: float, figures: dict[str, Any], policy: Policy, wanted: float | None) -> None:
    """The solver serves a link exactly where some choice of attenuators passes the rules, and its own choice is one of them.

    On a single strand one attenuator at the first end is for both directions; two that only together are enough are not planned.
    """
    bare = link(*modules, fiber(length_m, grade, **figures), policy=policy, throughput_mbit_s=wanted)
    accessories = Accessories(Catalog(attenuators=ATTENUATORS), policy, 10)
    ladders = [accessories.attenuators(end.light) for end in bare.ends]
    pair_holds = all(breach.unknown for rule in PAIR_RULES for breach in rule.check(bare))
    lights = ({0: bare.a}, {0: bare.b})
    candidates = [Pair(0, 0, (None, None), False)] if pair_holds else []
    codes = [int(code) for code in fiber_codes([row_of(bare)], candidates, lights, bare.asked, accessories).flat]
    chosen = [
        with_attenuators(bare, *([None, *ladder][position] for ladder, position in zip(ladders, attenuator_positions(code), strict=True)))
        for code in codes
        if code != NOT_SERVED
    ]
    second = [None] if bare.a.light is not None and bare.a.light.strands == 1 else [None, *ladders[1]]
    assert bool(chosen) == any(served(with_attenuators(bare, at_a, at_b)) for at_a, at_b in product([None, *ladders[0]], second))
    assert all(served(fitted) for fitted in chosen)
    unknown = any(breach.unknown and breach.rule in {rule.id for rule in PATH_RULES} for fitted in chosen for breach in told(fitted))
    assert unknown == any(rests_on_unknown(code) for code in codes if code != NOT_SERVED)


STEPS = [0, 30, 300, 550, 5000, 9000, 20_000, 38_000]
FIGURES = [{}, {"splices": 3}, {"measured_loss_db": {1310: 1.0}}, {"attenuation_db_km": {1310: 0.3}}, {"connections": 5}, {"strands": 1}]


def row_of(link: FittedLink) -> Row:
    return Row(link.asked.link, link.path, frozenset(), strands_free(link.path, link.policy))


@pytest.mark.parametrize("at_once", [1, 20, 100_000])
@pytest.mark.parametrize("most_pico", [0, 2**61])
@pytest.mark.parametrize(("family", "grade"), [(GIGABIT, "OS2"), (TEN, "OS2"), (GIGABIT, "OM3"), (TEN, "OM3")])
def test_many_links_and_pairs_at_once_are_served_as_each_by_itself(
    family: list[str], grade: str, most_pico: int, at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether sums fit into a machine's whole number or not, and however many are looked at together."""
    own: list[dict[str, Any]] = [{}, {"tx_dbm": (0, 4)}, {"throughput_mbit_s": {500: 60, 5000: 10}}, {"tx_dbm": None}]
    modules = [module(f"{standard}-{number}", standard, figures) for standard in family for number, figures in enumerate(own)]
    fitted = [
        link(first, second, fiber(length_m, grade, **figures))
        for first, second, length_m, figures in zip(modules, reversed(modules), STEPS * 3, FIGURES * 4, strict=False)
    ]
    rows = [row_of(its) for its in fitted]
    lights = {number: its.a for number, its in enumerate(fitted)}, {number: its.b for number, its in enumerate(fitted)}
    pairs = [Pair(a, b, (None, None), a == b) for a in lights[0] for b in lights[1] if fitted[a].a.light and fitted[b].b.light]
    accessories = Accessories(Catalog(attenuators=ATTENUATORS), Policy(), 10)
    by_itself = [[int(fiber_codes([row], [pair], lights, fitted[0].asked, accessories)[0, 0]) for row in rows] for pair in pairs]
    monkeypatch.setattr(distances, "_CELLS", at_once)
    monkeypatch.setattr(distances, "_MOST_PICO", most_pico)
    assert fiber_codes(rows, pairs, lights, fitted[0].asked, accessories).tolist() == by_itself
    assert len({code for codes in by_itself for code in codes}) > 1


@pytest.mark.parametrize("rule", [rule for rule in PAIR_RULES if rule.id in WHATEVER_THE_CORDS], ids=lambda rule: rule.id)
@settings(max_examples=60)
@given(modules=pairs, grade=grades, cords=st.tuples(st.sampled_from(CORDS), st.sampled_from(CORDS)))
def test_rules_that_are_asked_before_the_cords_look_at_none(
    rule: Rule, modules: tuple[Module, Module], grade: str, cords: tuple[Cord | None, Cord | None]
) -> None:
    bare = link(*modules, fiber(300, grade))
    corded = FittedLink(bare.asked, bare.a._replace(cord=cords[0]), bare.b._replace(cord=cords[1]))
    assert list(rule.check(corded)) == list(rule.check(bare))


copper_ends = st.sampled_from(
    [
        None,
        Module(part="T", form="SFP", rates=["1G"], medium="copper", reach_m={"Cat5e": 60, "Cat6": 80}),
        Module(part="BARE", form="SFP", rates=["1G"], medium="copper"),
        Module(part="SLOW", form="SFP", rates=["1G"], medium="copper", reach_m={"Cat5e": 90}, throughput_mbit_s={50: 500, 90: 10}),
    ]
)


@given(
    ends=st.tuples(copper_ends, copper_ends),
    category=st.sampled_from(["Cat5e", "Cat6", "twisted-pair"]),
    length_m=st.integers(40, 110),
    wanted=st.sampled_from([None, 20.0]),
)
def test_copper(ends: tuple[Module | None, Module | None], category: str, length_m: float, wanted: float | None) -> None:
    """The solver serves a link exactly where the rules do, and rests on an unknown exactly where they say so."""
    policy = Policy(copper_between_buildings=True)
    bare = link(*ends, copper(length_m, category), rate="1G", policy=policy, throughput_mbit_s=wanted)
    codes = copper_codes([row_of(bare)], [Pair(0, 0, (None, None), False)], ({0: bare.a}, {0: bare.b}), bare.asked)
    code = int(codes[0, 0])
    assert (code != NOT_SERVED) == served(bare)
    assert (code != NOT_SERVED and rests_on_unknown(code)) == (served(bare) and bool(told(bare)))
