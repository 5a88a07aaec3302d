"""The light: enough of it must arrive, and not too much, in both directions.

Figures are compared as whole thousandths of a dB, so a margin of exactly nothing holds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from math import inf
from typing import Any, NamedTuple

from optiselect.model.catalog import Attenuator
from optiselect.model.policy import Policy
from optiselect.model.terms import CORE_OF, Core, Grade, RuleId
from optiselect.optics.attenuation import Table, attenuation_db_km
from optiselect.optics.budget import counted_loss_pico, micro_db_km, run_loss_pico
from optiselect.optics.decibels import micro, milli, sum_db, to_millidecibel
from optiselect.rules.distance import NOT_SUPPORTED, Limit, dispersion_limit_m, grades_met, reach_limit_m, shorter_of
from optiselect.rules.fitted import Beam, FittedEnd, FittedLink, Path
from optiselect.rules.glass import takes_mode
from optiselect.rules.rule import Breach, Rule
from optiselect.standards.transceiver import Transceiver

Window = tuple[float, float]
Grades = tuple[Grade, ...]
LAUNCH = "launch power into that core"
_PICO_IN_MICRO = 1_000_000
DAMAGE_DBM = 5.0
"""Level that damages a receiver whose data sheet states none (common practice, no source)."""


def available_db(sender: Transceiver, receiver: Transceiver, grades: Grades, core: Core, policy: Policy) -> Limit:
    """What the channel may lose in one direction, in dB, penalties already off.

    Where both ends are of one standard and neither states its own powers: the published channel insertion loss, the least
    over the grades. Otherwise least launch power, less sensitivity, less penalty: the receiver's own, or its standard's with
    its standard's sensitivity, or the policy's design margin.

    Source: IEEE 802.3 Tables 38-5, 38-9, 52-10; a mixed pair by direction: derived.
    """
    return _available_db(sender, receiver, grades, core, policy.design_margin_db)


@lru_cache(maxsize=65_536)
def _available_db(sender: Transceiver, receiver: Transceiver, grades: Grades, core: Core, design_margin_db: float) -> Limit:
    if sender.family is not None and sender.family == receiver.family and not (sender.own_powers or receiver.own_powers) and sender.channel_loss_db is not None:
        least = inf
        for grade in grades:
            loss_db = sender.channel_loss_for(grade)
            if loss_db is None:
                return NOT_SUPPORTED
            least = min(least, loss_db)
        return Limit(least) if grades else NOT_SUPPORTED
    launched = sender.tx_dbm(core)
    if launched is None:
        return Limit(None, LAUNCH)
    if receiver.rx_dbm is None:
        return Limit(None, "sensitivity")
    return Limit(sum_db(launched[0], -receiver.rx_dbm[0], -_penalty_db(receiver, grades, design_margin_db)))


def penalty_db(receiver: Transceiver, grades: Grades, policy: Policy) -> float:
    """The link penalty in dB that comes off a computed budget: the greatest over the grades."""
    return _penalty_db(receiver, grades, policy.design_margin_db)


def _penalty_db(receiver: Transceiver, grades: Grades, design_margin_db: float) -> float:
    return max((_penalty_on_db(receiver, grade, design_margin_db) for grade in grades), default=design_margin_db)


def _penalty_on_db(receiver: Transceiver, grade: Grade, design_margin_db: float) -> float:
    own = receiver.penalty_for(grade, own=True)
    if own is not None:
        return own
    standard = None if receiver.own_sensitivity else receiver.penalty_for(grade, own=False)
    return design_margin_db if standard is None else standard


@lru_cache(maxsize=65_536)
def excess_db(sender: Transceiver, receiver: Transceiver, core: Core) -> Limit:
    """The loss in dB that must be there at least, so that the receiver is not overloaded; none is needed where it is negative."""
    launched = sender.tx_dbm(core)
    if launched is None:
        return Limit(None, LAUNCH)
    if receiver.rx_dbm is None:
        return Limit(None, "overload level")
    return Limit(sum_db(launched[1], -receiver.rx_dbm[1]))


def path_loss_millidb(path: Path, window_nm: Window | None, policy: Policy) -> tuple[int, int] | None:
    """Least and greatest loss of a path in whole 0.001 dB, without attenuators; None where the attenuation is unknown.

    The greatest includes the policy's repair allowance. It is summed exactly over the runs and rounded once.
    """
    if window_nm is None:
        return None
    if path.counts is not None:  # most paths: one product in place of a sum of products
        grade, length_mm, connections, splices = path.counts
        figures = micro_db_km(grade, window_nm, policy.attenuation)
        if figures is None:
            return None
        pico = counted_loss_pico(figures, length_mm, connections, splices, policy)
        return to_millidecibel(pico[0]), to_millidecibel(pico[1] + micro(policy.repair_allowance_db) * _PICO_IN_MICRO)
    least, greatest = 0, micro(policy.repair_allowance_db) * _PICO_IN_MICRO
    for index, run in enumerate(path.runs):
        if run.fiber is None:
            return None
        loss = run_loss_pico(run.fiber, window_nm, path.connections_of(index), policy)
        if loss is None:
            return None
        least += loss[0]
        greatest += loss[1]
    return to_millidecibel(least), to_millidecibel(greatest)


def _loss_millidb(link: FittedLink, window_nm: Window | None) -> tuple[int, int] | None:
    losses = link.asked.losses()
    if window_nm not in losses:
        losses[window_nm] = path_loss_millidb(link.path, window_nm, link.policy)
    return losses[window_nm]


class LinkLight(NamedTuple):
    """The light in one direction of a link, attenuators included: every figure that a plan prints. None is unknown.

    Attributes:
        sender, receiver: the ends.
        wavelength_nm: the sender's window.
        loss_min_db, loss_max_db, available_db, margin_db: to 0.001 dB.
        rx_dbm: least and greatest level at the receiver.
        overload_dbm: the receiver's overload level.
        limited_by: which of reach, dispersion and light ends first if the path were longer.
        is_harmful: whether the greatest level, while no attenuator is fitted yet, is beyond what damages the receiver.
    """

    sender: FittedEnd
    receiver: FittedEnd
    wavelength_nm: Window | None
    loss_min_db: float | None
    loss_max_db: float | None
    available_db: float | None
    margin_db: float | None
    rx_dbm: tuple[float | None, float | None]
    overload_dbm: float | None
    limited_by: RuleId | None
    is_harmful: bool


def directions_of(link: FittedLink) -> tuple[LinkLight, ...]:
    """The light in both directions of a link, first end to second and back; nothing on copper."""
    lit = _budgeted(link)
    if not lit:
        return ()
    there, back = lit
    loss = path_loss_millidb(link.asked.path, there.light.tx_nm, link.asked.policy)
    same = there.light.tx_nm == back.light.tx_nm
    loss_back = loss if same else path_loss_millidb(link.asked.path, back.light.tx_nm, link.asked.policy)
    return _direction(link, there, loss), _direction(link, back, loss_back)


def _direction(link: FittedLink, beam: Beam, loss: tuple[int, int] | None) -> LinkLight:
    sender, light, receiver, far = beam
    path, policy = link.asked.path, link.asked.policy
    grades = path.cabling.grades
    met, met_by_far = (grades_met(path, light), grades_met(path, far)) if path.cabling.is_measured else (grades, grades)
    kind = _kind_of_light(light, far, grades, met, met_by_far, policy.design_margin_db, policy.attenuation)
    least = greatest = low = high = margin = bare = None
    if loss is not None:
        attenuator = milli(link.attenuation_between(sender, receiver))
        least, greatest = loss[0] + attenuator, loss[1] + attenuator
        if kind.launched is not None:
            low, high = (kind.launched[0] - greatest) / 1000, (kind.launched[1] - least) / 1000
            bare = (kind.launched[1] - loss[0]) / 1000
        if kind.available is not None:
            margin = kind.available - greatest
    margin_db = None if margin is None else margin / 1000
    return LinkLight(
        sender,
        receiver,
        light.tx_nm,
        None if least is None else least / 1000,
        None if greatest is None else greatest / 1000,
        None if kind.available is None else kind.available / 1000,
        margin_db,
        (low, high),
        far.rx_dbm[1] if far.rx_dbm is not None else None,
        _limited_by(path.length_m, kind, margin_db),
        bare is not None and bare > (far.rx_damage_dbm if far.rx_damage_dbm is not None else DAMAGE_DBM),
    )


class _KindOfLight(NamedTuple):
    """What is the same for a light on every path of a kind.

    Attributes:
        available: what may be lost, in 0.001 dB. launched: least and greatest power, in 0.001 dBm.
        reach_m, spread_m: how far it goes by reach and by dispersion. steepest_db_km: what a km more costs at most.
    """

    available: int | None
    launched: tuple[int, int] | None
    reach_m: float | None
    spread_m: float | None
    steepest_db_km: float


@lru_cache(maxsize=65_536)
def _kind_of_light(
    light: Transceiver,
    far: Transceiver,
    grades: Grades,
    met: tuple[Grade | None, ...],
    met_by_far: tuple[Grade | None, ...],
    design_margin_db: float,
    table: Table,
) -> _KindOfLight:
    core = CORE_OF[grades[0]]
    available = _available_db(light, far, _named(met), core, design_margin_db).value
    launched = light.tx_dbm(core)
    figures = [attenuation_db_km(grade, light.tx_nm, table) for grade in grades] if light.tx_nm is not None else []
    return _KindOfLight(
        None if available is None else milli(available),
        None if launched is None else (milli(launched[0]), milli(launched[1])),
        shorter_of(reach_limit_m(light, met), reach_limit_m(far, met_by_far)).value,
        dispersion_limit_m(light, met).value,
        max((figure[1] for figure in figures if figure is not None), default=0.0),
    )


def _limited_by(length_m: float, kind: _KindOfLight, margin_db: float | None) -> RuleId | None:
    """What would end first if the path grew, by the greatest attenuation of its grades; ties in this order."""
    first_m: float | None = kind.reach_m
    first: RuleId | None = None if first_m is None else "reach"
    if kind.spread_m is not None and kind.spread_m < inf and (first_m is None or kind.spread_m < first_m):
        first_m, first = kind.spread_m, "dispersion"
    if margin_db is not None and kind.steepest_db_km > 0 and (first_m is None or length_m + margin_db / kind.steepest_db_km * 1000 < first_m):
        first = "light-budget"
    return first


def _budgeted(link: FittedLink) -> tuple[Beam, ...]:
    """The directions that the rules of light look at; what the mode or the core refuses is the business of those rules."""
    cabling = link.asked.path.cabling
    if len(cabling.cores) != 1:
        return ()
    lit, grades = link.beams, cabling.grades
    for beam in lit:
        if not _may_enter(beam.light, grades):
            return ()
    return lit


@lru_cache(maxsize=65_536)
def _may_enter(light: Transceiver, grades: Grades) -> bool:
    return all(takes_mode(light, grade) is not False for grade in grades)


def _available(link: FittedLink, beam: Beam) -> Limit:
    return available_db(beam.light, beam.far, _named(grades_met(link.path, beam.light)), link.path.cores[0], link.policy)


@lru_cache(maxsize=4096)
def _named(met: tuple[Grade | None, ...]) -> Grades:
    return tuple(grade for grade in met if grade is not None)


def _missing(limit: Limit, beam: Beam) -> str:
    """The missing figure, and whose it is."""
    owner = beam.sender if limit.unknown == LAUNCH else beam.receiver
    return f"the {limit.unknown} of {owner.holds}"


def _unknown_loss(link: FittedLink, beam: Beam) -> str:
    """The datum without which a path's loss is unknown."""
    if beam.light.tx_nm is None:
        return f"the wavelength that {beam.sender.holds} sends"
    low, high = beam.light.tx_nm
    return f"the attenuation of {', '.join(link.path.run_ids)} at {low:g}-{high:g} nm"


def light_budget(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each direction in which the path may lose more than is available."""
    for beam in _budgeted(link):
        limit = _available(link, beam)
        loss = _loss_millidb(link, beam.light.tx_nm)
        if loss is None:
            yield Breach("light-budget", beam.name, None, _unknown_loss(link, beam), "dB", unknown=True)
        if limit.unknown is not None:
            yield Breach("light-budget", beam.name, None, _missing(limit, beam), "dB", unknown=True)
        elif limit.value is None:
            facts: dict[str, Any] = {"part": beam.sender.holds, "runs": link.path.run_ids}
            yield Breach("light-budget", beam.name, ", ".join(link.path.grades), "none", "dB", facts=facts, case="not supported")
        elif loss is not None:
            greatest = loss[1] + milli(link.attenuation_between(beam.sender, beam.receiver))
            short = greatest - milli(limit.value)
            if short > 0:
                facts = {"part": beam.sender.holds, "far": beam.receiver.holds, "short": short / 1000, "runs": link.path.run_ids}
                yield Breach("light-budget", beam.name, greatest / 1000, milli(limit.value) / 1000, "dB", facts=facts)


def overload(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each direction in which too much light may arrive, and for each attenuator that should not be there."""
    lit = _budgeted(link)
    for end in link.ends:
        if end.attenuator is not None:
            yield from _misplaced(end, end.attenuator, link)
    needs: list[int | None] = []
    for beam in lit:
        limit = excess_db(beam.light, beam.far, link.path.cores[0])
        if limit.value is None:
            needs.append(None)
            yield Breach("overload", beam.name, None, _missing(limit, beam), "dB", unknown=True)
            continue
        excess, fitted = milli(limit.value), milli(link.attenuation_between(beam.sender, beam.receiver))
        loss = _loss_millidb(link, beam.light.tx_nm)
        needs.append(excess - loss[0] if loss is not None else None)
        if loss is None:
            if excess > fitted:
                yield Breach("overload", beam.name, limit.value, _unknown_loss(link, beam), "dB", unknown=True)
            continue
        if excess > loss[0] + fitted:
            facts = {"part": beam.sender.holds, "far": beam.receiver.holds, "missing": (excess - loss[0] - fitted) / 1000, "runs": link.path.run_ids}
            case = "" if link.cords_stated else "attenuator due"
            yield Breach("overload", beam.name, excess / 1000, (loss[0] + fitted) / 1000, "dB", facts=facts, case=case)
    if needs and link.policy.allow_attenuators and any(end.attenuator is not None for end in link.ends):
        yield from _not_needed(link, needs)


def _misplaced(end: FittedEnd, item: Attenuator, link: FittedLink) -> Iterator[Breach]:
    """What is wrong with an attenuator by itself."""
    light = end.light
    facts = {"part": item.part, "far": end.holds}
    if not link.policy.allow_attenuators:
        yield Breach("overload", end.name, "no attenuator", "the policy", facts=facts, case="not allowed")
    elif light is None or link.path.medium != "fiber":
        yield Breach("overload", end.name, 0.0, item.loss_db, "dB", facts=facts, case="not needed")
    elif (item.connector, item.mode) != (light.connector, light.mode):
        yield Breach("overload", end.name, f"{light.connector}, {light.mode}", f"{item.connector}, {item.mode}", facts=facts, case="misfit")


def _not_needed(link: FittedLink, needs: Sequence[int | None]) -> Iterator[Breach]:
    """Yield a breach for each attenuator without which no direction that passes it would be overloaded.

    `needs`: what must be lost beside the path, from the first end to the second and back; None is not known.
    """
    single = link.a.light is not None and link.a.light.strands == 1
    fitted = [(end, end.attenuator) for end in link.ends if end.attenuator is not None]
    for end, item in fitted:
        others = sum(milli(other.loss_db) for far, other in fitted if single and far is not end)
        passing = needs if single else (needs[1 if end is link.a else 0],)
        known = [need for need in passing if need is not None]
        if len(known) == len(passing) and max(known) <= others:
            facts = {"part": item.part, "far": end.holds}
            yield Breach("overload", end.name, max(0, max(known)) / 1000, item.loss_db, "dB", facts=facts, case="not needed")


_OVERLOADED = "{path}: {required} {unit} must be lost so that {part} does not overload {far}, and {runs} may lose as little as {available} {unit}"
LIGHT_BUDGET = Rule(
    id="light-budget",
    statement="What is available is at least what the path may lose, in both directions.",
    why="Too little light gives errors or no link, and the first dirty plug or repair uses up what was missing.",
    source="IEEE 802.3 Clause 38, 38.11.2 and Table 38-5; Clause 52, Table 52-10; TIA-568.3-D (0.75 dB a connection, 0.3 dB a splice)",
    scope="path",
    check=light_budget,
    phrase="{path}: {runs} may lose {required} {unit}, and from {part} to {far} {available} {unit} are available, {short} {unit} short",
    phrases={"not supported": "{path}: {runs} {runs_is} {required}, and the standard of {part} publishes no loss for it ({available})"},
    holds={"runs.F1.fiber.connections": 7},
    breaks={"runs.F1.fiber.connections": 8},
)
OVERLOAD = Rule(
    id="overload",
    statement="The receiver is not overloaded, in both directions, and no attenuator is there without need.",
    why="A strong sender on a short path blinds the receiver, and may burn it for good.",
    source="IEEE 802.3 Clause 52, Tables 52-16 and 52-17 (10GBASE-ER: +4 dBm sent, -1 dBm borne); least loss: derived",
    scope="path",
    check=overload,
    phrase=_OVERLOADED,
    phrases={
        "attenuator due": _OVERLOADED + ": an attenuator of {missing} {unit} or more is needed",
        "not needed": "{path}: attenuator {part} takes {available} {unit}, and {required} {unit} are needed before {far}",
        "not allowed": "{path}: {available} allows {required}, and {part} is there before {far}",
        "misfit": "{path}: {far} takes an attenuator of {required}, and {part} is of {available}",
    },
    holds={"modules.DEMO-LX10.tx_dbm": [-9.0, -2.8]},
    breaks={"modules.DEMO-LX10.tx_dbm": [-9.0, -2.7]},
)
