"""Links that are alike are asked once: the answer is that of asking each link, on plans of every family, whole and spoiled."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from random import Random

import pytest

from optiselect.model.catalog import Attenuator, Converter, Cord
from optiselect.model.document import Noun
from optiselect.model.network import Run
from optiselect.model.policy import Policy
from optiselect.rules import END_RULES, PAIR_RULES, PATH_RULES
from optiselect.rules.examples import example
from optiselect.rules.fitted import FittedEnd, FittedLink, Path
from optiselect.rules.light import directions_of
from optiselect.rules.rule import Breach, Rule
from optiselect.solver import alike
from optiselect.solver.alike import breaches_in_light, breaches_of_links
from optiselect.solver.audit import fitted_links
from optiselect.solver.solve import solve_bare
from optiselect.standards.transceiver import transceiver
from tests.rules.fitting import LONG, attenuator, built_to, fiber
from tests.rules.fitting import link as fitted
from tests.solver.families import FAMILIES, case

Said = list[tuple[str, Breach]]
OF_A_LINK = (*END_RULES, *PAIR_RULES, *PATH_RULES)
MODULES = [built_to(standard) for standard in ("1000BASE-LX10", "1000BASE-SX", "1000BASE-BX10-U", "10GBASE-LR", "1000BASE-T")]
MODULES += [
    built_to("1000BASE-LX10", tx_dbm=[2, 5], rx_dbm=[-24, -3], temperature_c=[0, 40], power_w=3, laser_class="3B"),
    built_to("1000BASE-LX10", coding=["harbor"], lifecycle="discontinued", temperature_c=[-40, 85], power_w=0.7),
    built_to("1000BASE-LX10", role="near", pairs_with="far", dispersion_ps_nm=0.01, throughput_mbit_s={10: 5}),
    built_to("1000BASE-LX10", form="SFP+", strands=1, temperature_c=[-40, 85], power_w=0.7),
]
CORDS: list[Cord | None] = [
    None,
    Cord(part="C1", grade="OS2", connectors=("LC", "LC")),
    Cord(part="C2", grade="OM3", connectors=("LC", "LC")),
    Cord(part="C3", grade="OM1", connectors=("LC", "LC")),
    Cord(part="C4", grade="OS2", connectors=("LC", "LC"), polish=("UPC", "APC")),
    Cord(part="C5", grade="OM2", connectors=("LC", "SC"), conditioning=True),
]
ATTENUATORS = [Attenuator(part="A1", mode="single-mode", connector="LC", loss_db=5, lifecycle=lifecycle) for lifecycle in ("active", "discontinued")]
CONVERTER = Converter(part="V9", copper_rates=["100M"], form="SFP", rates=["1G"], temperature_c=[0, 40], accepts=["quay"])
USUAL = Policy()
STRICT = Policy(allow_attenuators=False, laser_classes=[], rules=(lambda link: False,), keep_installed="must", exclude_parts=["C1"])
FIBERS = [
    {"grade": "OM1"},
    {"connectors": ("LC", "SC")},
    {"connectors": ("LC", "LC"), "polish": ("APC", "UPC")},
    {"length_m": 90_000.0},
    {"modal_bandwidth_mhz_km": {850: 100}},
    {"measured_loss_db": {1310: 19}},
]


def put(noun: Noun, **values: object) -> Noun:
    """A noun with other values, validated."""
    return type(noun)(**noun.stated() | values)


def with_end(link: FittedLink, draw: Random, change: Callable[[FittedEnd], FittedEnd]) -> FittedLink:
    return replace(link, a=change(link.a)) if draw.random() < 0.5 else replace(link, b=change(link.b))


def with_path(link: FittedLink, **parts: object) -> FittedLink:
    return replace(link, asked=replace(link.asked, path=replace(link.path, **parts)))


def another_module(link: FittedLink, draw: Random) -> FittedLink:
    module = draw.choice(MODULES)
    return with_end(link, draw, lambda end: end._replace(fitting="module", module=module, light=transceiver(module, link.rate)))


def another_cord(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(cord=draw.choice(CORDS)))


def an_attenuator(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(attenuator=draw.choice(ATTENUATORS)))


def something_in_place(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(installed="M9"))


def a_bare_socket(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(fitting="copper", module=None, light=None))


def the_port_of_the_far_end(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(port=link.b.port))


def a_port_of_its_kind(link: FittedLink, draw: Random) -> FittedLink:
    little = {"rates": ["10M"]} if link.a.port.kind != "fixed" else {"optic": {"standard": "10GBASE-ER"}}
    return replace(link, a=link.a._replace(port=put(link.a.port, **little)))


def soldered(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(fitting="fixed"))


def a_module_that_is_no_longer_made(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(module=end.module and put(end.module, lifecycle="discontinued")))


def a_module_that_says_less(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(light=end.light and replace(end.light, power_w=None, laser_class=None)))


def a_converter(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(converter=CONVERTER))


def cords_that_nobody_stated(link: FittedLink, draw: Random) -> FittedLink:
    return replace(link, a=link.a._replace(cord=None), cords_stated=False)


def no_cord(link: FittedLink, draw: Random) -> FittedLink:
    return replace(link, a=link.a._replace(cord=None))


def another_climate(link: FittedLink, draw: Random) -> FittedLink:
    site = link.a.site and put(link.a.site, ambient_c=draw.choice([(-60.0, 20.0), (0.0, 90.0), None]))
    return replace(link, a=link.a._replace(site=site))


def no_site(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(site=None))


def a_device_that_takes_little(link: FittedLink, draw: Random) -> FittedLink:
    return with_end(link, draw, lambda end: end._replace(device=put(end.device, accepts=["quay"])))


def another_rate(link: FittedLink, draw: Random) -> FittedLink:
    return replace(link, asked=replace(link.asked, rate=draw.choice(["100M", "10G"])))


def another_policy(link: FittedLink, draw: Random) -> FittedLink:
    return replace(link, asked=replace(link.asked, policy=STRICT))


def another_cable(link: FittedLink, draw: Random) -> FittedLink:
    run = draw.choice(link.path.runs)
    stated = run.stated()
    cable = {"fiber": stated["fiber"] | draw.choice(FIBERS)} if run.fiber else {"copper": stated["copper"] | {"length_m": 500.0}}
    return with_path(link, runs=tuple(put(each, **cable) if each is run else each for each in link.path.runs))


def the_run_turned_round(link: FittedLink, draw: Random) -> FittedLink:
    return with_path(link, flipped=tuple(not flipped for flipped in link.path.flipped))


def two_buildings(link: FittedLink, draw: Random) -> FittedLink:
    far = link.path.sites[-1] and put(link.path.sites[-1], building="annex")
    return with_path(link, sites=(*link.path.sites[:-1], draw.choice([far, None])))


SPOILS = (
    another_module,
    another_cord,
    an_attenuator,
    something_in_place,
    a_bare_socket,
    the_port_of_the_far_end,
    a_port_of_its_kind,
    soldered,
    a_module_that_is_no_longer_made,
    a_module_that_says_less,
    a_converter,
    cords_that_nobody_stated,
    no_cord,
    another_climate,
    no_site,
    a_device_that_takes_little,
    another_rate,
    another_policy,
    another_cable,
    the_run_turned_round,
    two_buildings,
)


@cache
def planned() -> tuple[FittedLink, ...]:
    """The links of three plans of each family."""
    documents = [case(seed) for seed in range(3 * len(FAMILIES))]
    return tuple(link for three in documents for link in fitted_links(solve_bare(*three), *three))


def spoiled(links: tuple[FittedLink, ...], draw: Random) -> Iterator[FittedLink]:
    """Each link as it is, then spoiled in one or two ways, one by one."""
    for link in links:
        yield link
        for spoil in draw.sample(SPOILS, len(SPOILS)):
            yield spoil(link, draw)
            yield draw.choice(SPOILS)(spoil(link, draw), draw)


def said_of_each(links: list[FittedLink]) -> Said:
    """The obvious way: every rule on every link."""
    said: Said = []
    for link in links:
        said += [(link.asked.link.id, breach) for rule in END_RULES for end in link.ends for breach in rule.check(end, link.asked)]
        said += [(link.asked.link.id, breach) for rule in (*PAIR_RULES, *PATH_RULES) for breach in rule.check(link)]
    return said


def said_at_once(links: list[FittedLink]) -> Said:
    return [(link.asked.link.id, breach) for link, breach in breaches_of_links(links)]


@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_of_spoiled_plans_is_what_every_rule_says_of_every_link(seed: int) -> None:
    links = list(spoiled(planned(), Random(seed)))
    assert said_at_once(links) == said_of_each(links)


def test_every_rule_of_a_link_is_found_broken_in_spoiled_plans() -> None:
    links = [link for seed in range(4) for link in spoiled(planned(), Random(seed))]
    assert {breach.rule for _, breach in said_at_once(links) if not breach.unknown} == {rule.id for rule in OF_A_LINK}


@pytest.mark.parametrize("rule", OF_A_LINK, ids=lambda rule: rule.id)
def test_the_example_that_breaks_a_rule_is_told_beside_the_one_that_holds(rule: Rule) -> None:
    links = [link for changes in ({}, rule.holds, rule.breaks, rule.holds) for link in example(changes).links]
    said = said_at_once(links)
    assert {breach.rule for _, breach in said} == {rule.id}
    assert said == said_of_each(links)


class OfMedium:
    """A path that says what it is made of, and nothing else."""

    def __init__(self, path: Path) -> None:
        self.medium = path.medium


@pytest.mark.parametrize("rule", END_RULES, ids=lambda rule: rule.id)
def test_a_rule_of_an_end_asks_no_more_of_the_path_than_its_medium(rule: Rule) -> None:
    for link in (link for changes in ({}, rule.holds, rule.breaks) for link in example(changes).links):
        blind = replace(link.asked, path=OfMedium(link.path))
        assert [list(rule.check(end, blind)) for end in link.ends] == [list(rule.check(end, link.asked)) for end in link.ends]


def drawn_out(link: FittedLink, draw: Random) -> FittedLink:
    """The same link over runs of other lengths and losses: some of them too long, some so short that the receivers may be blinded."""

    def cable(run: Run) -> dict[str, object]:
        stated = run.stated()
        if run.copper:
            return {"copper": stated["copper"] | {"length_m": round(draw.uniform(1, 130), 1)}}
        lossy = {"measured_loss_db": {nm: round(draw.uniform(0, 20), 2) for nm in (850, 1310, 1490, 1550)}} if draw.random() < 0.3 else {}
        return {"fiber": stated["fiber"] | {"length_m": round(10 ** draw.uniform(0, 4.7), 1), "splices": draw.randint(0, 9)} | lossy}

    return with_path(link, runs=tuple(put(run, **cable(run)) for run in link.path.runs))


def strong(draw: Random) -> FittedLink:
    """Light that may be too much on a short run, with attenuators or without."""
    fitting = [draw.choice([None, attenuator(3), attenuator(7)]) for _ in "ab"]
    return fitted(LONG, LONG, fiber(100), policy=USUAL, attenuators=(fitting[0], fitting[1]))


@pytest.mark.parametrize("seed", range(4))
def test_a_link_between_others_that_are_sound_is_sound(seed: int) -> None:
    draw = Random(f"lengths {seed}")
    kinds = [spoil(link, draw) for link in draw.sample(planned(), 12) for spoil in draw.sample(SPOILS, 4)] + [strong(draw) for _ in range(12)]
    links = [drawn_out(link, draw) for link in kinds for _ in range(8)]
    assert said_at_once(links) == said_of_each(links)


def test_paths_that_are_not_kept_are_told_apart() -> None:
    """An object that is gone leaves its identity to another."""
    sound = example().links[0]
    (run,) = sound.path.runs
    other = put(run, fiber=run.fiber.stated() | {"grade": "OM3"})
    runs = [run, run, run, other, run] * 12

    def fitted_at(place: int) -> FittedLink:
        return with_path(sound, runs=(runs[place],))

    lit = ((link, directions_of(link)) for link in map(fitted_at, range(len(runs))))
    said = [(place, breach) for place in range(len(runs)) for _, breach in said_of_each([fitted_at(place)])]
    assert [*breaches_in_light(lit, fitted_at)] == said
    assert {place % 5 for place, _ in said} == {3}


DOWN, UP = (built_to(f"1000BASE-BX10-{kind}", tx_dbm=[-3, 0], rx_dbm=[-20, -3]) for kind in "DU")
BEFORE_DOWN = attenuator(5), None


@pytest.mark.parametrize(
    "some",
    [
        [fitted(built_to("1000BASE-LX10"), built_to("1000BASE-LX10"), fiber(100), policy=USUAL)],
        [fitted(DOWN, UP, fiber(100), policy=USUAL, attenuators=BEFORE_DOWN)],
    ],
    ids=["two strands", "one strand, attenuated"],
)
def test_links_between_sound_ones_are_not_asked(some: list[FittedLink], monkeypatch: pytest.MonkeyPatch) -> None:
    (run,) = some[0].path.runs
    some = [with_path(some[0], runs=(put(run, fiber=run.fiber.stated() | {"length_m": length_m}),)) for length_m in range(100, 200)]
    asked: list[float] = []

    def asking(rule: Rule) -> Rule:
        return replace(rule, check=lambda link: asked.append(link.path.length_m) or rule.check(link))

    monkeypatch.setattr(alike, "PATH_RULES", tuple(asking(rule) for rule in PATH_RULES))
    assert {breach.rule for _, breach in breaches_of_links(some)}.isdisjoint(rule.id for rule in PATH_RULES)
    assert {100.0, 199.0} <= {*asked}
    assert len({*asked}) < 5  # losses are rounded, so that some link may lose as much as the longest


def test_one_attenuator_for_two_losses_speaks_for_itself() -> None:
    """It is needed where the light of either direction is too strong; where both losses are enough it is not, though each is another link's too."""
    runs = [fiber(100, measured_loss_db={1310: at_1310, 1490: at_1490}) for at_1310, at_1490 in ((4.0, 1.0), (1.0, 4.0), (4.0, 4.0))]
    links = [fitted(DOWN, UP, run, policy=USUAL, attenuators=BEFORE_DOWN) for run in runs]
    assert [link is links[2] for link, breach in breaches_of_links(links) if breach.rule == "overload"] == [True]
