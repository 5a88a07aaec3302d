"""What could be changed so that a link is served: each a patch of one document, from what stands against the nearest candidates.

Nothing here says that a change helps: `fixes` tries each of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optiselect.explain.candidates import Candidates
from optiselect.explain.cures import CAUTIONS, cures_in, more_in_stock, more_strands, priced
from optiselect.explain.ground import Ground
from optiselect.explain.missing import missing_parts
from optiselect.explain.places import CHANGES
from optiselect.explain.ways import Way
from optiselect.model.network import CopperPort, FixedOptic, Link
from optiselect.model.refusal import Change, DocumentName, Edit, Fact, FixKind, MissingPart
from optiselect.model.terms import RATES, WAIVABLE, Rate

_WAYS = 12
_RATE_MATTERS = ("port-once", "device-power", "stock")
"""What a link that is crowded out may lack at one rate and find at another: other cages, other modules."""
_OM4_M = 550.0
"""How far fiber of OM4 is worth laying: the published reach at 1G (IEEE 802.3 Clause 38)."""
_ONE_OF = ("measure", "enclosure", "policy")
"""Kinds of which the nearest candidate's figure is enough for one place."""
DOCUMENTS: tuple[DocumentName, ...] = ("policy", "catalog", "network")


@dataclass(frozen=True)
class Proposal:
    """A change that may help."""

    kind: FixKind
    change: Change
    document: DocumentName
    edits: tuple[Edit, ...]
    words: str
    own_risk: bool = False
    caution: str = ""
    part: MissingPart | None = None

    @property
    def rank(self) -> tuple[object, ...]:
        """What is tried first: what nobody has to answer for, then the cheapest kind of change."""
        return self.own_risk, CHANGES.index(self.change)


def proposals(candidates: Candidates, ways: list[Way], lacking: tuple[Fact, ...] = ()) -> list[Proposal]:
    """Every change that is worth a try, the cheapest kind first; each once.

    Args:
        ways: the nearest candidates, with what stands against them.
        lacking: of a link that is crowded out, what the plan does not leave for it.
    """
    found: dict[tuple[object, ...], Proposal] = {}
    for proposal in _all(candidates, ways, lacking):
        what = repr(proposal.edits) if proposal.kind not in _ONE_OF else tuple(edit.at for edit in proposal.edits)
        found.setdefault((proposal.document, what), proposal)
    return sorted(found.values(), key=lambda proposal: proposal.rank)


def _all(candidates: Candidates, ways: list[Way], lacking: tuple[Fact, ...]) -> Iterator[Proposal]:
    ground, link, nearest = candidates.ground, candidates.link, ways[:_WAYS]
    if candidates.passing:
        yield from _room(ground, link, lacking)
    if not candidates.passing or any(fact.rule in _RATE_MATTERS for fact in lacking):
        yield from _other_rates(ground, link)
    if link.over is not None:
        edit = Edit(at=("links", link.id, "over"), value=None)
        yield Proposal("path", "policy", "network", (edit,), f"let {link.id} take any path")
    for way in nearest:
        yield from _cured(ground, way)
    for way in nearest:
        yield from _waived(way)
    rate = candidates.rates[0]
    if not candidates.passing:
        yield from _parts(ground, link, rate, None)
        yield from _converters(ground, link, rate)
        yield from _cages(ground, link, rate)
        yield from _fiber(ground, link)
    short_of_strands = any(fact.rule == "strands-free" for fact in lacking) or any(reason[0] == "strands-free" for way in nearest for reason in way.reasons)
    if short_of_strands and not any(close.strands == 1 for close in candidates.passing):
        yield from _parts(ground, link, rate, 1)


def _cured(ground: Ground, way: Way) -> Iterator[Proposal]:
    """For each document the edits that answer everything that stands against a candidate, where that document can."""
    for document in DOCUMENTS:
        cures = cures_in(document, ground, way)
        if cures:
            edits = tuple({repr(edit): edit for cure in cures for edit in cure.edits}.values())
            words = " and ".join(dict.fromkeys(cure.words for cure in cures))
            dearest = max(cures, key=lambda cure: CHANGES.index(cure.change))
            caution = "; ".join(dict.fromkeys(cure.caution for cure in cures if cure.caution))
            yield Proposal(dearest.kind, dearest.change, document, edits, words, any(cure.own_risk for cure in cures), caution)


def _waived(way: Way) -> Iterator[Proposal]:
    rules = sorted({reason[0] for reason in way.reasons})
    if all(rule in WAIVABLE for rule in rules):
        link_id = way.asked.link.id
        edits = tuple(Edit(at=("waivers",), do="add", value={"rule": rule, "link": link_id}) for rule in rules)
        caution = "; ".join(CAUTIONS[rule] for rule in rules if rule in CAUTIONS)
        yield Proposal("waiver", "policy", "policy", edits, f"waive {' and '.join(rules)} for {link_id}", True, caution)


def _other_rates(ground: Ground, link: Link) -> Iterator[Proposal]:
    """The next lower rates that both ends run, then the higher ones."""
    if link.rate is None:
        return
    both = ground.rates(link.model_copy(update={"rate": None}))
    position = RATES.index(link.rate)
    for rate in sorted(both, key=lambda rate: (RATES.index(rate) > position, abs(RATES.index(rate) - position))):
        if rate != link.rate:
            yield Proposal("rate", "policy", "network", (Edit(at=("links", link.id, "rate"), value=rate),), f"run {link.id} at {rate}")


def _parts(ground: Ground, link: Link, rate: Rate, strands: int | None) -> Iterator[Proposal]:
    for missing in missing_parts(ground, link, rate, strands=strands):
        edits = tuple(Edit(at=("modules",), do="add", value=priced(module, ground.catalog.modules)) for module in missing.modules)
        several = len(missing.modules) > 1
        words = f"find two parts for one strand, of {missing.spec.budget_db:g} dB" if several else "find the part below"
        yield Proposal("single-strand" if several else "module", "module", "catalog", edits, words, part=missing.spec)


def _converters(ground: Ground, link: Link, rate: Rate) -> Iterator[Proposal]:
    """A media converter with a cage, for ends that have a copper socket only."""
    copper = [side for side in (0, 1) if all(isinstance(group.port, CopperPort) for group in ground.groups(link, side))]
    fiber = any(path.medium == "fiber" for path in ground.paths(link))
    spans = [site.ambient_c for side in copper for group in ground.groups(link, side)[:1] if (site := ground.fittings.site_of(group.device)) and site.ambient_c]
    if not copper or not fiber:
        return
    value: dict[str, object] = {"part": f"TO-ASK-FOR-CONVERTER-{rate}", "copper_rates": [rate], "form": "SFP", "rates": [rate]}
    if spans:
        value["temperature_c"] = [min(low for low, _ in spans), max(high for _, high in spans) + ground.policy.temperature_rise_c]
    bears = f", {value['temperature_c'][0]:g} to {value['temperature_c'][1]:g} C" if spans else ""  # type: ignore[index]
    words = f"find a media converter, copper {rate} to an SFP cage{bears}"
    if value["part"] not in ground.catalog.converter_by_part:
        yield Proposal("converter", "module", "catalog", (Edit(at=("converters",), do="add", value=priced(value, ground.catalog.converters)),), words)


def _cages(ground: Ground, link: Link, rate: Rate) -> Iterator[Proposal]:
    """A device with a cage in place of one whose optic is soldered."""
    for side in (0, 1):
        groups = ground.groups(link, side)
        if groups and all(isinstance(group.port, FixedOptic) for group in groups):
            device, name = groups[0].device.id, groups[0].names[0]
            form = "SFP" if rate in ("10M", "100M", "1G") else "SFP+" if rate in ("2.5G", "5G", "10G") else "SFP28" if rate == "25G" else "QSFP28"
            port = {"id": name, "kind": "cage", "form": form, "rates": [rate]}
            edit = Edit(at=("devices", device, "ports", name), value=port)
            yield Proposal("device", "device", "network", (edit,), f"swap {device} for a device with an {form} cage at {name}, {rate}")


def _fiber(ground: Ground, link: Link) -> Iterator[Proposal]:
    """Fiber of its own beside a way of copper, or single-mode beside multimode; plugs are left open, so no cords are planned."""
    path = next(iter(ground.paths(link)), None)
    if path is None or (path.medium == "fiber" and not path.is_multimode):
        return
    name = next(name for index in range(1, len(ground.network.runs) + 2) if (name := f"new-fiber-{index}") not in ground.network.run_by_id)
    routes = sorted({route for run in path.runs for route in run.routes})
    beside = ", ".join(run.id for run in path.runs)
    for grade in ("OS2", "OM4") if path.length_m <= _OM4_M else ("OS2",):
        fiber = {"grade": grade, "length_m": path.length_m, "strands": 2}
        edits = [Edit(at=("runs",), do="add", value={"id": name, "ends": list(link.devices), "routes": routes, "fiber": fiber})]
        if link.over is not None:
            edits.append(Edit(at=("links", link.id, "over"), value=[name]))
        yield Proposal("cable", "cable", "network", tuple(edits), f"lay 2 strands of {grade} fiber beside {beside}")


def _room(ground: Ground, link: Link, lacking: tuple[Fact, ...]) -> Iterator[Proposal]:
    """What makes room for a link beside the others."""
    edits: list[Edit] = []
    words: list[str] = []
    for fact in lacking:
        for edit, said in _more_of(ground, link, fact):
            edits.append(edit)
            words.append(said)
    in_network = [edit for edit in edits if edit.at[0] in ("runs", "devices", "links")]
    if lacking and len(in_network) == len(lacking) == len(edits):
        kinds: dict[str, FixKind] = {"strands-free": "strands", "port-once": "port", "device-power": "device", "diversity": "path"}
        yield Proposal(kinds[lacking[0].rule], _change_of(lacking), "network", tuple(edits), " and ".join(words))
    elif lacking and not in_network and len(edits) == len(lacking):
        yield Proposal("module", "module", "catalog", tuple(edits), " and ".join(words))
    if any(fact.rule == "strands-free" for fact in lacking) and ground.policy.reserve_strands:
        edit = Edit(at=("reserve_strands",), value=0)
        yield Proposal("policy", "policy", "policy", (edit,), "use the strands that are held in reserve", own_risk=False)
    first = (Edit(at=("links", link.id, "critical"), value=True), Edit(at=("links", link.id, "weight"), value=1_000_000))
    yield Proposal("weight", "policy", "network", first, f"put {link.id} before the others")


def _change_of(lacking: tuple[Fact, ...]) -> Change:
    return "cable" if any(fact.rule == "strands-free" for fact in lacking) else "device"


def _more_of(ground: Ground, link: Link, fact: Fact) -> Iterator[tuple[Edit, str]]:
    """The edit that gives what a fact lacks, and its words."""
    match fact.rule:
        case "strands-free":
            run = ground.network.run_by_id[fact.path.partition(".")[2]]
            if run.fiber is not None and isinstance(fact.required, int | float) and isinstance(fact.available, int | float):
                short = round(fact.required - fact.available)
                yield more_strands(run.id, run.fiber, short)
        case "port-once":
            device = fact.path.removeprefix("devices.").removesuffix(".ports")
            side = link.devices.index(device)
            group = ground.groups(link, side)[0]
            if link.pinned[side] is None:
                port = group.port.stated() | {"id": _new_name(ground, device)}
                port.pop("ids", None)
                yield Edit(at=("devices", device, "ports"), do="add", value=port), f"add a port like {device}/{group.names[0]} to {device}"
            else:
                yield Edit(at=("links", link.id, "ends"), value=[link.devices[0], link.devices[1]]), f"let {link.id} use any port"
        case "device-power" if isinstance(fact.available, int | float):
            device = fact.path.removeprefix("devices.").removesuffix(".module_power_w")
            edit = Edit(at=("devices", device, "module_power_w"), value=fact.available)
            yield edit, f"give {device} a supply of {fact.available:g} W for its modules"
        case "diversity":
            left = [other for other in link.diverse_from if other not in fact.links]
            if len(left) < len(link.diverse_from):
                yield Edit(at=("links", link.id, "diverse_from"), value=left), f"let {link.id} share its way with {', '.join(fact.links)}"
        case "stock" if isinstance(fact.required, int | float):  # pragma: no branch - the last of what links share, and counted
            part = fact.path.removeprefix("catalog.").removesuffix(".stock")
            edit, words = more_in_stock(ground, part, round(fact.required))
            yield edit, words


def _new_name(ground: Ground, device: str) -> str:
    names = ground.network.device_by_id[device].port_by_id
    return next(f"new-{index}" for index in range(1, len(names) + 2) if f"new-{index}" not in names)
