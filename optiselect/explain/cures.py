"""What one document could say otherwise so that a candidate would stand: an edit for each thing that is broken, and its words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor
from typing import Any

from optiselect.explain.ground import Ground
from optiselect.explain.ways import Way
from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.network import Fiber
from optiselect.model.refusal import Change, DocumentName, Edit, FixKind
from optiselect.model.terms import Lifecycle
from optiselect.optics.budget import run_loss_pico
from optiselect.optics.decibels import sum_db
from optiselect.rules.fitted import FittedEnd
from optiselect.rules.panel import CordNeed, conditioning_needed, cord_needed
from optiselect.rules.rule import Breach

_PICO_IN_DB = 1_000_000_000_000
CAUTIONS = {
    "earthing": "surge protection at both ends; the local code and a licensed electrician decide",
    "laser-class": "mark the place and let only those work there who are trained for it",
    "temperature": "expect it to fail in the first heat or frost",
}
"""What has to be done, or is to be expected, where a rule is relaxed that keeps people or links safe."""
_TEST_NM = (850, 1300, 1310, 1490, 1550, 1625)
"""Wavelengths at which fiber is measured (common practice, no source)."""


@dataclass(frozen=True)
class Cure:
    """Edits that answer one thing that is broken."""

    kind: FixKind
    change: Change
    edits: tuple[Edit, ...]
    words: str
    own_risk: bool = False
    caution: str = ""


def cures_in(document: DocumentName, ground: Ground, way: Way) -> list[Cure]:
    """One cure in a document for everything that stands against a candidate; nothing unless each has one."""
    finder = {"policy": _in_policy, "catalog": _in_catalog, "network": _in_network}[document]
    found: list[Cure] = []
    for (_, _), breach in way.broken:
        cure = finder(ground, way, breach)
        if cure is None:
            return []
        found.append(cure)
    return _together(found)


def _together(cures: list[Cure]) -> list[Cure]:
    """The same with edits of one place as one, the last of which says most."""
    by_place: dict[object, Cure] = {}
    for cure in cures:
        key = tuple(edit.at for edit in cure.edits) if all(edit.do == "set" for edit in cure.edits) else repr(cure.edits)
        known = by_place.get(key)
        by_place[key] = cure if known is None else _stronger(known, cure)
    return list(by_place.values())


def _stronger(one: Cure, other: Cure) -> Cure:
    """Of two values for one place the one that does for both: the longer list, the narrower range, the smaller figure."""
    first, second = one.edits[0].value, other.edits[0].value
    if isinstance(first, dict) and isinstance(second, dict):
        both = {**first, **second} | {key: min(first[key], second[key]) for key in first if key in second}
        return Cure(one.kind, one.change, (one.edits[0].model_copy(update={"value": both}),), one.words if first == both else other.words)
    if isinstance(first, list) and isinstance(second, list) and one.kind == "enclosure":
        span = [max(first[0], second[0]), min(first[1], second[1])]
        if span == first:
            return one
        words = other.words if span == second else f"keep the air at {one.edits[0].at[1]} between {span[0]:g} and {span[1]:g} C"
        return Cure(one.kind, one.change, (one.edits[0].model_copy(update={"value": span}),), words)
    if isinstance(first, list) and isinstance(second, list):
        return one if len(first) >= len(second) else other
    return other if isinstance(second, int | float) and isinstance(first, int | float) and second < first else one


# -- the policy -------------------------------------------------------------------------------------------------------


def _in_policy(ground: Ground, way: Way, breach: Breach) -> Cure | None:
    policy = ground.policy
    match breach.rule:
        case "laser-class":
            value = [*policy.laser_classes, str(breach.available)]
            return Cure("policy", "policy", (Edit(at=("laser_classes",), value=value),), f"allow laser class {breach.available}", True, CAUTIONS["laser-class"])
        case "lifecycle" if breach.available == "excluded":
            left = [part for part in policy.exclude_parts if part not in way.parts]
            return Cure("policy", "policy", (Edit(at=("exclude_parts",), value=left),), f"take {breach.facts['part']} off the excluded parts")
        case "lifecycle":
            needed: list[Lifecycle] = sorted({item.lifecycle for end in way.link.ends for item in (end.module, end.converter) if item is not None})
            value = [*policy.lifecycles, *(stage for stage in needed if stage not in policy.lifecycles)]
            return Cure("policy", "policy", (Edit(at=("lifecycles",), value=value),), f"allow {breach.available} parts")
        case "installed":
            return Cure("policy", "policy", (Edit(at=("keep_installed",), value="prefer"),), f"let the module in {breach.path} be replaced")
        case "medium" if breach.case == "no converters":
            return Cure("policy", "policy", (Edit(at=("allow_converters",), value=True),), "allow media converters")
        case "overload" if not policy.allow_attenuators:
            return Cure("attenuator", "cord", (Edit(at=("allow_attenuators",), value=True),), "allow attenuators")
        case "connector" if not policy.allow_hybrid_cords:
            return Cure("cord", "cord", (Edit(at=("allow_hybrid_cords",), value=True),), "allow hybrid cords")
        case "strands-free" if policy.reserve_strands:
            return Cure("policy", "policy", (Edit(at=("reserve_strands",), value=0),), "use the strands that are held in reserve")
        case "light-budget" if isinstance(breach.facts.get("short"), float):
            left_db = round(floor((policy.design_margin_db - breach.facts["short"]) * 10) / 10, 1)
            if left_db >= 0:
                words = f"lower the design margin from {policy.design_margin_db:g} to {left_db:g} dB"
                return Cure("policy", "policy", (Edit(at=("design_margin_db",), value=left_db),), words, own_risk=True)
    return None


# -- the catalog ------------------------------------------------------------------------------------------------------


def _in_catalog(ground: Ground, way: Way, breach: Breach) -> Cure | None:
    match breach.rule:
        case "connector" | "mode-conditioning" | "polish":
            return _cords(ground, way)
        case "overload":
            return _attenuators(ground, way)
        case "stock":
            required = round(breach.required) if isinstance(breach.required, int | float) else 0
            edit, words = more_in_stock(ground, breach.path, required)
            return Cure("module", "module", (edit,), words)
    return None


def priced(value: dict[str, Any], alike: Iterable[Module | Converter | Cord | Attenuator]) -> dict[str, Any]:
    """A part that is only specified, at the price of the dearest of its kind, so that it is not taken for a gift."""
    several = list(alike)
    same = [item for item in several if isinstance(item, Module) and item.form == value.get("form") and set(item.rates or ()) & set(value.get("rates", ()))]
    prices = [item.price for item in same or several if item.price is not None]
    return value | ({"price": max(prices)} if prices else {})


def more_in_stock(ground: Ground, part: str, units: int) -> tuple[Edit, str]:
    """The edit that puts so many units of a part in stock, and its words."""
    catalog = ground.catalog
    kind = "modules" if part in catalog.module_by_part else "converters" if part in catalog.converter_by_part else "attenuators"
    kind = "cords" if part in catalog.cord_by_part else kind
    return Edit(at=(kind, part, "stock"), value=units), f"get {part} to {units} in stock"


def _cords(ground: Ground, way: Way) -> Cure | None:
    """The cords that a candidate lacks, put into the catalog; nothing where a joint of the path does not mate."""
    link = way.link
    if any(reason[0] in ("connector", "polish") and breach.path in ground.network.panel_by_id for reason, breach in way.broken):
        return None
    due = conditioning_needed(link.a.light, link.b.light, link.path) and "mode-conditioning" not in link.asked.waived
    edits: list[Edit] = []
    needs: list[str] = []
    for side, end in enumerate(link.ends):
        need = cord_needed(end.light, link.path, side, due)
        if need is not None and end.cord is None and str(need) not in needs:
            needs.append(str(need))
            edits.append(Edit(at=("cords",), do="add", value=_cord(need, len(edits) + 1, ground)))
    if not edits:
        return None
    edits = [edit.model_copy(update={"value": priced(edit.value, ground.catalog.cords)}) for edit in edits]
    return Cure("cord", "cord", tuple(edits), f"add {' and '.join(needs)}")


def _cord(need: CordNeed, number: int, ground: Ground) -> dict[str, Any]:
    name = f"TO-ASK-FOR-CORD-{number}"
    while name in ground.catalog.cord_by_part:
        name += "-X"
    cord: dict[str, Any] = {"part": name, "grade": _best_grade(need), "connectors": list(need.connectors), "strands": need.strands}
    if need.face == "angled":
        cord["polish"] = ["UPC", "APC"]
    return cord | ({"conditioning": True} if need.conditioning else {})


def _best_grade(need: CordNeed) -> str:
    """The grade that is as good as every one of the path."""
    order = ("62.5/160/500", "OM1", "50/400/400", "OM2", "OM3", "OM4", "OM5", "OS1", "OS1a", "OS2")
    return max(need.grades, key=order.index)


def _attenuators(ground: Ground, way: Way) -> Cure | None:
    """Attenuators of whole decibels that take what is too much; on one strand at the first end, else before each receiver."""
    if not ground.policy.allow_attenuators:
        return None
    single = way.link.a.light is not None and way.link.a.light.strands == 1
    losses: dict[tuple[str, str], float] = {}
    for reason, breach in way.broken:
        missing = breach.facts.get("missing")
        if reason[0] != "overload" or not isinstance(missing, float):
            continue
        end = way.link.a if single else _receiver(way, breach)
        if end.light is None or end.light.mode is None or end.light.connector is None:
            return None
        fitted = end.attenuator.loss_db if end.attenuator is not None else 0.0
        key = (end.light.mode, end.light.connector)
        losses[key] = max(losses.get(key, 0.0), sum_db(missing, fitted))
    edits: list[Edit] = []
    said: list[str] = []
    for (mode, connector), loss_db in sorted(losses.items()):
        whole = float(ceil(loss_db))
        edits.append(
            Edit(at=("attenuators",), do="add", value={"part": f"TO-ASK-FOR-{connector}-{whole:g}-DB", "mode": mode, "connector": connector, "loss_db": whole})
        )
        said.append(f"an attenuator of {whole:g} dB, {connector}, {mode}")
    if not edits or any(edit.value["part"] in ground.catalog.attenuator_by_part for edit in edits):
        return None
    return Cure("attenuator", "cord", tuple(edits), f"add {' and '.join(said)}")


def _receiver(way: Way, breach: Breach) -> FittedEnd:
    return way.link.b if breach.path.endswith(f" to {way.link.b.name}") else way.link.a


# -- the network ------------------------------------------------------------------------------------------------------


def _in_network(ground: Ground, way: Way, breach: Breach) -> Cure | None:
    match breach.rule:
        case "temperature":
            return _enclosure(ground, way, breach)
        case "light-budget" | "overload":
            return _measured(ground, way)
        case "throughput" if isinstance(breach.available, int | float) and breach.available > 0:
            edit = Edit(at=("links", way.asked.link.id, "throughput_mbit_s"), value=breach.available)
            return Cure("rate", "policy", (edit,), f"be content with {breach.available:g} Mbit/s")
        case "strands-free":
            run = ground.network.run_by_id[breach.path]
            if run.fiber is not None and isinstance(breach.required, int | float) and isinstance(breach.available, int | float):  # pragma: no branch - all are
                short = round(breach.required - breach.available)
                edit, words = more_strands(run.id, run.fiber, short)
                return Cure("strands", "cable", (edit,), words)
        case "connector" | "polish" if breach.path in ground.network.panel_by_id:
            return _joint(way, breach)
    return None


def more_strands(run_id: str, fiber: Fiber, short: int) -> tuple[Edit, str]:
    """The edit that gives a run the strands that it is short of: those of others where there are so many, else new ones."""
    strands = f"{short} strand{'' if short == 1 else 's'}"
    if fiber.strands_in_use >= short:
        return Edit(at=("runs", run_id, "fiber", "strands_in_use"), value=fiber.strands_in_use - short), f"free {strands} of {run_id}"
    return Edit(at=("runs", run_id, "fiber", "strands"), value=fiber.strands + short), f"lay {strands} more along {run_id}"


def _joint(way: Way, breach: Breach) -> Cure | None:
    """New plugs on the run behind a joint, of the kind that the run before it has."""
    path = way.asked.path
    index = next(index for index, panel in enumerate(path.panels) if panel.id == breach.path)
    before, after = path.runs[index].fiber, path.runs[index + 1].fiber
    if before is None or after is None or before.connectors is None or after.connectors is None:  # pragma: no cover - else no joint is wrong
        return None
    end_before, end_after = int(not path.flipped[index]), int(path.flipped[index + 1])
    run_id = path.runs[index + 1].id
    if breach.rule == "connector":
        plugs: list[str] = list(after.connectors)
        plugs[end_after] = before.connectors[end_before]
        return Cure(
            "cable", "cable", (Edit(at=("runs", run_id, "fiber", "connectors"), value=plugs),), f"put {plugs[end_after]} plugs on {run_id} at {breach.path}"
        )
    faces: list[str] = list(after.polish or ("UPC", "UPC"))
    faces[end_after] = (before.polish or ("UPC", "UPC"))[end_before]
    return Cure("cable", "cable", (Edit(at=("runs", run_id, "fiber", "polish"), value=faces),), f"put {faces[end_after]} plugs on {run_id} at {breach.path}")


def _enclosure(ground: Ground, way: Way, breach: Breach) -> Cure | None:
    """The air that the part bears, kept in the enclosure."""
    end = next((end for end in way.link.ends if end.name == breach.path), None)
    if end is None or end.site is None or end.site.ambient_c is None or not isinstance(breach.available, int | float):  # pragma: no cover - else no breach
        return None
    low, high = end.site.ambient_c
    if breach.case == "cold":
        span, words = [breach.available, high], f"keep {end.site.id} at {breach.available:g} C or above"
    else:
        top = sum_db(breach.available, -ground.policy.temperature_rise_c)
        span, words = [low, top], f"keep the air at {end.site.id} at {top:g} C or below"
    if span[0] > span[1]:
        return None
    return Cure("enclosure", "device", (Edit(at=("sites", end.site.id, "ambient_c"), value=span),), words)


def _measured(ground: Ground, way: Way) -> Cure | None:
    """The loss that a single run would have to measure, where so little or so much is plausible for it."""
    if len(way.asked.path.runs) != 1:
        return None
    run = way.asked.path.runs[0]
    figures: dict[str, float] = {}
    said: dict[int, str] = {}
    for reason, breach in way.broken:
        if reason[0] not in ("light-budget", "overload") or not isinstance(breach.required, float) or not isinstance(breach.available, float):
            continue
        sender = way.link.a if breach.path.startswith(f"{way.link.a.name} to ") else way.link.b
        if sender.light is None or sender.light.tx_nm is None or run.fiber is None or any(end.attenuator for end in way.link.ends):
            return None
        window = sender.light.tx_nm
        loss = run_loss_pico(run.fiber, window, way.asked.path.connections_of(0), ground.policy)
        if loss is None:  # pragma: no cover - else no figure would be beyond another
            return None
        if reason[0] == "overload":
            value, word = breach.required, "at least"
        else:
            value, word = sum_db(breach.available, -ground.policy.repair_allowance_db), "at most"
        if not loss[0] / _PICO_IN_DB <= value <= loss[1] / _PICO_IN_DB:
            return None
        nm = next((nm for nm in _TEST_NM if window[0] <= nm <= window[1]), round((window[0] + window[1]) / 2))
        known_db = figures.get(f"{nm}")
        if known_db is None or (value < known_db if reason[0] == "light-budget" else value > known_db):
            figures[f"{nm}"] = round(value, 3)
            said[nm] = f"{value:g} dB {word} at {nm} nm"
    if not figures:  # pragma: no cover - what is unknown is no breach, and one of light is asked about
        return None
    known = {f"{nm:g}": loss_db for nm, loss_db in (run.fiber.measured_loss_db or {}).items()} if run.fiber else {}
    edit = Edit(at=("runs", run.id, "fiber", "measured_loss_db"), value=known | figures)
    return Cure("measure", "policy", (edit,), f"measure {run.id}, which must lose {' and '.join(said.values())}")
