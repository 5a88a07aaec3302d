"""Distance: published reach, dispersion, copper reach, and what still passes at a length.

Each rule rests on a limit function of the two ends and the kind of path, which is called once for a pair and compared with
many lengths; the check of a single link asks the same function.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import inf

from optiselect.model.terms import Category, Grade, Rate, mode_of
from optiselect.optics.dispersion import worst_dispersion_ps_nm_km
from optiselect.rules.fitted import FittedEnd, FittedLink, Path
from optiselect.rules.glass import takes_mode
from optiselect.rules.rule import Breach, Rule
from optiselect.standards.copper import category_known, socket_reach_m
from optiselect.standards.pmd import pmd
from optiselect.standards.transceiver import Transceiver, transceiver


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit, which may be unknown.

    Attributes:
        value: the limit; None with nothing unknown: not supported at all, which is not the same as a limit of 0.
        unknown: the missing datum in words. A value beside it: up to there all is well, beyond it nobody knows.
    """

    value: float | None
    unknown: str | None = None


NOT_SUPPORTED = Limit(None)
NO_LIMIT = Limit(inf)


def rate_mbit_s(rate: Rate) -> float:
    """A rate as a number of Mbit/s."""
    return float(rate[:-1]) * (1000.0 if rate.endswith("G") else 1.0)


def grades_met(path: Path, light: Transceiver) -> tuple[Grade | None, ...]:
    """The rows of the published tables that the runs of a path meet at a light's wavelength (None: below every row)."""
    return path.grades_at(light.tx_nm) if light.tx_nm is not None else path.grades


@lru_cache(maxsize=65_536)
def reach_limit_m(light: Transceiver, grades: tuple[Grade | None, ...]) -> Limit:
    """The published reach of one end in m: the least over the grades that the path meets."""
    if light.reach_m is None:
        return Limit(None, "published reach")
    least = inf
    for grade in grades:
        reach_m = light.reach_for(grade) if grade is not None else None
        if reach_m is None:
            return NOT_SUPPORTED
        least = min(least, reach_m)
    return Limit(least)


def pair_reach_m(a: Transceiver, b: Transceiver, path: Path) -> Limit:
    """The published reach of a pair over a path in m: the least of both ends'; not supported where either end's is not."""
    return shorter_of(*(reach_limit_m(light, grades_met(path, light)) for light in (a, b)))


def shorter_of(*limits: Limit) -> Limit:
    """The least of several limits; not supported where one of them is not, and unknown where one of them is."""
    if NOT_SUPPORTED in limits:
        return NOT_SUPPORTED
    known = [limit.value for limit in limits if limit.value is not None]
    unknown = next((limit.unknown for limit in limits if limit.unknown is not None), None)
    return Limit(min(known) if known else None, unknown)


def reach(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each end whose published reach, on a grade of the path, is shorter than the path."""
    path, length_m = link.path, link.path.length_m
    for end, light, *_ in link.beams:
        grades = grades_met(path, light)
        limit = reach_limit_m(light, grades)
        if limit.unknown is not None:
            yield Breach("reach", end.name, length_m, f"the {limit.unknown} of {end.holds}", "m", unknown=True)
        elif limit.value is None:
            if all(takes_mode(light, grade) is not False for grade in path.grades):  # what the mode refuses is `fiber-mode`'s
                lacking = [grade or "a fiber of that modal bandwidth" for grade in grades if grade is None or light.reach_for(grade) is None]
                facts = {"part": end.holds, "grades": tuple(lacking), "runs": path.run_ids}
                yield Breach("reach", end.name, length_m, 0.0, "m", facts=facts, case="no reach")
        elif length_m > limit.value:
            yield Breach("reach", end.name, length_m, limit.value, "m", facts={"part": end.holds, "grades": path.grades, "runs": path.run_ids})


@lru_cache(maxsize=65_536)
def dispersion_limit_m(sender: Transceiver, grades: tuple[Grade | None, ...]) -> Limit:
    """The length in m up to which a sender's dispersion is borne on single-mode fiber; no limit on multimode.

    Where no tolerance is stated: below 10 Gb/s the published reach stands for it; from there on, up to the reach of its
    standard all is well, and beyond it is unknown.
    """
    if not any(grade is not None and mode_of(grade) == "single-mode" for grade in grades):
        return NO_LIMIT
    if sender.dispersion_ps_nm is not None:
        if sender.tx_nm is None:
            return Limit(0.0, "sent wavelength")
        return Limit(sender.dispersion_ps_nm / worst_dispersion_ps_nm_km(sender.tx_nm) * 1000)
    if rate_mbit_s(sender.rate) < 10_000:
        return NO_LIMIT
    borne_m = reach_limit_m(transceiver(pmd(sender.standard).figures, sender.rate), grades).value if sender.standard is not None else None
    return Limit(borne_m or 0.0, "dispersion tolerance")


def dispersion(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each sender whose light spreads more over the path than it bears."""
    path = link.path
    for sender, light, receiver, _ in link.beams:
        limit = dispersion_limit_m(light, grades_met(path, light))
        if limit.value is None or path.length_m <= limit.value:
            continue
        if limit.unknown is not None or light.tx_nm is None or light.dispersion_ps_nm is None:
            yield Breach("dispersion", sender.name, None, f"the {limit.unknown} of {sender.holds}", "ps/nm", unknown=True)
        else:
            spread_ps_nm = round(worst_dispersion_ps_nm_km(light.tx_nm) * path.length_m / 1000, 3)
            facts = {"part": sender.holds, "receiver": receiver.name, "length_m": path.length_m, "limit_m": round(limit.value, 3)}
            yield Breach("dispersion", f"{sender.name} to {receiver.name}", spread_ps_nm, light.dispersion_ps_nm, "ps/nm", facts=facts)


def copper_end_limit_m(light: Transceiver | None, rate: Rate, category: Category) -> Limit:
    """How far one end reaches over copper in m: a socket (None) by its standard, a module by its published reach."""
    if light is None:
        if not category_known(category):
            return Limit(None, "category of the cable")
        return Limit(socket_reach_m(rate, category))
    if light.reach_m is None:
        return Limit(None, "published reach")
    reach_m = light.reach_for(category)
    if reach_m is None and not category_known(category):
        return Limit(None, "category of the cable")
    return Limit(reach_m)


def copper_limit_m(a: Transceiver | None, b: Transceiver | None, rate: Rate, category: Category) -> Limit:
    """The length in m that a pair reaches over copper: the least of both ends; not supported where either end's is not."""
    return shorter_of(*(copper_end_limit_m(light, rate, category) for light in (a, b)))


def copper_reach(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each end that does not reach as far as the copper is long, at the rate and category."""
    category = link.path.category
    if category is None:
        return
    length_m = link.path.length_m
    for end in link.ends:
        limit = copper_end_limit_m(end.light, link.rate, category)
        if limit.unknown is None and limit.value is not None and length_m <= limit.value:
            continue
        facts = {"part": end.holds, "rate": link.rate, "category": category, "runs": link.path.run_ids}
        if limit.unknown is not None:
            of = end.holds if limit.unknown == "published reach" else ", ".join(link.path.run_ids)
            yield Breach("copper-reach", end.name, length_m, f"the {limit.unknown} of {of}", "m", unknown=True, facts=facts)
        elif limit.value is None:
            yield Breach("copper-reach", end.name, length_m, 0.0, "m", facts=facts, case="no reach")
        else:
            yield Breach("copper-reach", end.name, length_m, limit.value, "m", facts=facts)


def throughput_at(light: Transceiver | None, length_m: float) -> float | None:
    """What passes at a length in Mbit/s, for a medium that slows with distance; None: the full rate; 0 beyond the last length."""
    if light is None or light.throughput_mbit_s is None:
        return None
    fitting = [up_to_m for up_to_m in light.throughput_mbit_s if length_m <= up_to_m]
    return light.throughput_mbit_s[min(fitting)] if fitting else 0.0


def passes_mbit_s(link: FittedLink) -> tuple[float, FittedEnd]:
    """What passes over a link in Mbit/s, and the end that limits it."""
    best = (rate_mbit_s(link.rate), link.a)
    for end in link.ends:
        passes = throughput_at(end.light, link.path.length_m)
        if passes is not None and passes < best[0]:
            best = (passes, end)
    return best


def throughput(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where less passes at this length than the link needs; where nothing is asked, something must pass."""
    wanted = link.asked.link.throughput_mbit_s
    if wanted is None and (link.a.light is None or link.a.light.throughput_mbit_s is None) and (link.b.light is None or link.b.light.throughput_mbit_s is None):
        return
    passes, end = passes_mbit_s(link)
    if passes < (wanted or 0.0) or passes == 0.0:
        facts = {"part": end.holds, "length": link.path.length_m, "runs": link.path.run_ids}
        yield Breach("throughput", link.name, wanted if wanted is not None else "something", passes, "Mbit/s", facts=facts)


REACH = Rule(
    id="reach",
    statement="The length is within the published reach on the grade, for both ends.",
    why="Reach on multimode is a bandwidth limit: beyond it errors come however much light arrives.",
    source="IEEE 802.3 Clause 38, Tables 38-2 and 38-6; Clause 52, Table 52-6; Clause 59",
    scope="path",
    check=reach,
    phrase="{path}: {runs} {runs_is} {required} {unit} long, and {part} reaches {available} {unit} on {grades}",
    phrases={"no reach": "{path}: {runs} {runs_is} {required} {unit} long, and no reach on {grades} is published for {part}"},
    holds={"runs.F1.fiber.length_m": 10_000},
    breaks={"runs.F1.fiber.length_m": 10_001},
)
DISPERSION = Rule(
    id="dispersion",
    statement="The dispersion that the path adds up is within what the sender bears.",
    why="Each pulse spreads into the next; no attenuator and no amplifier takes that back.",
    source="ITU-T G.652, Table 2 (zero at 1300-1324 nm, slope 0.092 ps/(nm2 km)); ITU-T G.650.1 (formula)",
    scope="path",
    check=dispersion,
    phrase="{path}: {length_m} m spread the light by {required} {unit}, and {part} bears {available} {unit}, which is {limit_m} m",
    holds={"modules.DEMO-LX10.dispersion_ps_nm": 11.8},
    breaks={"modules.DEMO-LX10.dispersion_ps_nm": 11.7},
)
COPPER_REACH = Rule(
    id="copper-reach",
    statement="The copper is no longer than the rate reaches on its category.",
    why="Beyond it the link drops to a lower rate, or works on the bench and fails in the heat.",
    source="IEEE 802.3 Clauses 25, 40, 55 and 126; TIA-568 (100 m channel)",
    scope="path",
    check=copper_reach,
    phrase="{path}: {runs} {runs_is} {required} {unit} long, and {part} reaches {available} {unit} on {category} at {rate}",
    phrases={"no reach": "{path}: {runs} {runs_is} {required} {unit} long, and {part} does not run {rate} on {category}"},
    holds={"runs.C2.copper.length_m": 100},
    breaks={"runs.C2.copper.length_m": 100.1},
)
THROUGHPUT = Rule(
    id="throughput",
    statement="What passes at that length is at least what the link needs.",
    why="A medium that slows with distance links up at once and then starves the cameras behind it.",
    source="common practice, no source",
    scope="path",
    check=throughput,
    phrase="{path}: {required} {unit} must pass, and {part} passes {available} {unit} at {length} m",
    holds={"links.L5.throughput_mbit_s": 15},
    breaks={"links.L5.throughput_mbit_s": 16},
)
