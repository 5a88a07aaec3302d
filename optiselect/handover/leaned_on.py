"""Figures that a plan leaned on and that nobody read in print: from memory, common practice, or judgment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from optiselect.handover.dossier import Dossier
from optiselect.model.catalog import Optics
from optiselect.model.network import CopperPort, FixedOptic
from optiselect.model.terms import Grade, lower_or_same, mode_of
from optiselect.rules.fitted import FittedEnd, FittedLink
from optiselect.standards.fiber import DEFAULT_TABLE
from optiselect.standards.pmd import pmd
from optiselect.standards.sources import DERIVED, MEMORY, PRACTICE, Citation, citation, data

_JUDGED = "by judgment"
_WORDS = {
    "tx_nm": "wavelengths that it sends",
    "rx_nm": "wavelengths that it receives",
    "tx_dbm": "launch power",
    "rx_dbm": "sensitivity and overload",
    "penalty_db": "link penalty",
    "reach_m": "reach",
    "channel_loss_db": "channel insertion loss",
    "conditioning": "mode conditioning",
    "dispersion_ps_nm": "dispersion that it bears",
    "laser_class": "laser class",
    "rx_damage_dbm": "level that damages it",
}


@dataclass(frozen=True)
class WeakFigure:
    """One figure, how it is known, and the links or parts that lean on it."""

    text: str
    how: str
    places: list[str]


def weak_figures(dossier: Dossier) -> list[WeakFigure]:
    """Every figure of the library that the served links lean on and that was not read in print."""
    places: dict[tuple[str, str], set[str]] = defaultdict(set)
    of_ends: dict[Hashable, list[tuple[str, str]]] = {}
    of_fiber: dict[Hashable, list[tuple[str, str]]] = {}
    for planned, fitted in dossier.served:
        for end in fitted.ends:
            kind = _kind(end, fitted)
            if kind not in of_ends:
                of_ends[kind] = _weak(_of_end(end, fitted))
            for weak in of_ends[kind]:
                places[weak].add(planned.id)
        if fitted.path.medium == "fiber":
            windows, computed = _met(fitted)
            if (windows, computed) not in of_fiber:
                of_fiber[windows, computed] = _weak(_of_fiber(dossier, windows, computed))
            for weak in of_fiber[windows, computed]:
                places[weak].add(planned.id)
    return [WeakFigure(text, how, sorted(ids)) for (text, how), ids in sorted(places.items())]


def _kind(end: FittedEnd, fitted: FittedLink) -> Hashable:
    """What an end leans on follows from this."""
    cage = getattr(end.port, "form", None), getattr(end.port, "module_power_w", None), end.converter is None
    return id(end.light), id(end.module or _optic_of(end)), cage, fitted.rate, fitted.path.category, fitted.path.grades


def _weak(figures: Iterator[tuple[str, Citation]]) -> list[tuple[str, str]]:
    return [(text, _how(cited)) for text, cited in figures if is_weak(cited)]


def is_weak(cited: Citation) -> bool:
    """Whether a figure is from memory, common practice or judgment."""
    return cited.how in (MEMORY, PRACTICE) or _JUDGED in cited.how or MEMORY in cited.place


def _how(cited: Citation) -> str:
    how = cited.how.removeprefix(DERIVED) if cited.how in (MEMORY, PRACTICE) or _JUDGED in cited.how else MEMORY
    return f"{cited.document}, {how}"


def _of_end(end: FittedEnd, fitted: FittedLink) -> Iterator[tuple[str, Citation]]:
    light = end.light
    if light is not None and light.standard is not None:
        own = end.module or _optic_of(end)
        citations = pmd(light.standard).citations
        for field, cited in citations.items():
            name, _, key = field.partition(".")
            computed = name in ("channel_loss_db", "penalty_db") and light.own_powers
            if name in _WORDS and not computed and not _stated(own, name, fitted.rate) and (not key or key in _looked_up(name, citations, fitted)):
                yield f"{light.standard}: {_WORDS[name]}{f' ({key})' if key else ''}", cited
    port = end.port
    if end.module is not None and end.converter is None and not isinstance(port, CopperPort | FixedOptic) and port.module_power_w is None:
        yield f"{port.form} cage: power that it gives a module", citation(data("power")["module_power_w"][port.form]["source"])


def _optic_of(end: FittedEnd) -> Optics | None:
    if end.converter is not None:
        return end.converter.optic
    return end.port.optic if isinstance(end.port, FixedOptic) else None


def _stated(own: Optics | None, name: str, rate: Any) -> bool:
    at_rate = own.at_rate.get(rate) if own is not None and own.at_rate else None
    return any(getattr(stated, name, None) is not None for stated in (own, at_rate))


def _looked_up(name: str, citations: Mapping[str, Citation], fitted: FittedLink) -> set[str]:
    """Of a figure by grade, mode, core or category, the keys that the path is looked up under: of each grade the first that is there."""
    keys = {field.partition(".")[2] for field in citations if field.startswith(f"{name}.")}
    if fitted.path.category is not None:
        return {fitted.path.category}
    found: set[str] = set(fitted.path.cores)
    for grade in fitted.path.grades:
        found.update([key for key in (*lower_or_same(grade), mode_of(grade)) if key in keys][:1])
    return found


def _met(fitted: FittedLink) -> tuple[tuple[tuple[float, float], ...], frozenset[Grade]]:
    """The windows of the light that a path carries, and the grades of its runs whose loss is computed."""
    windows = tuple([end.light.tx_nm for end in fitted.ends if end.light is not None and end.light.tx_nm is not None])
    return windows, frozenset([run.fiber.grade for run in fitted.path.runs if run.fiber and not run.fiber.measured_loss_db])


def _of_fiber(dossier: Dossier, windows: tuple[tuple[float, float], ...], computed: frozenset[Grade]) -> Iterator[tuple[str, Citation]]:
    table = dossier.policy.attenuation if isinstance(dossier.policy.attenuation, str) else DEFAULT_TABLE
    for row in data("fiber")["attenuation"]:
        low, high = row["window_nm"]
        if not any(low < window[1] and window[0] < high for window in windows):
            continue
        for grade in sorted(computed & set(row["grades"])):
            stated = row["most_db_km"].get(table) or row["most_db_km"][DEFAULT_TABLE]
            yield f"{grade}, {low}-{high} nm: greatest attenuation", citation(stated["source"])
            yield f"{grade}, {low}-{high} nm: least plausible attenuation (for overload)", citation(row["least_db_km"]["source"])
