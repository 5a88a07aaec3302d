"""From chosen options back to the user's ids: ports, cords, arithmetic, bill, notes and cautions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.document import Figures
from optiselect.model.plan import Direction, Finding, PartKind, PartLine, PlannedEnd, PlannedLink
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedEnd, FittedLink
from optiselect.rules.light import LinkLight
from optiselect.solver.choice import SpareSteps
from optiselect.solver.fittings import PortGroup, stays
from optiselect.solver.option import LinkRows, Pick
from optiselect.solver.ports import PortDesk
from optiselect.solver.prepare import Preparation, Prepared

LASER = (
    "Invisible laser light: never look into a port, plug or fiber end, with or without optics; treat every fiber as live "
    "until measured dark (laser class: IEC 60825-1; hazard of the installed system: IEC 60825-2)."
)
GLASS = "Glass shards: keep fiber off-cuts out of skin and eyes."
PLACE = "Work at height, on energized plant and near traffic only under local rules and by those licensed for it."
EARTH = "Lightning and earthing: the local code and licensed practice decide."
FIGURES = "Figures marked from memory or common practice: confirm against the data sheet before ordering."


KINDS: tuple[PartKind, ...] = ("module", "converter", "cord", "attenuator")


class Assembly:
    """Reads the choice back into a plan's tables."""

    def __init__(self, preparation: Preparation, prepared: Prepared, picks: Mapping[str, Pick], spares: Mapping[str, SpareSteps]) -> None:
        self._preparation, self._prepared, self._picks, self._spares = preparation, prepared, picks, spares
        self._fitted: dict[int, tuple[dict[str, Any], dict[str, Any]]] = {}

    def links(self, known: Mapping[str, PlannedLink], others: Iterable[PlannedLink]) -> Iterator[PlannedLink]:
        """The row of each link, with its ports, which are counted off in the order of the links' ids; without arithmetic and notes.

        Args:
            known: by link its row in a plan that this one follows, where the same was chosen of it; where its ports are the same too it
                stands, and is left out here. others: all other rows of that plan. Ports move only at devices where links of others end,
                now or there; elsewhere the same links come in the same order.
        """
        desk, rows, picks = PortDesk(), self._prepared.rows, self._picks
        differing = [rows[link_id] for link_id in picks.keys() - known.keys()] if known else []
        moving = {end.device for row in others for end in row.ends}.union(groups[0].device.id for row in differing for groups in row.groups)
        asked = picks.keys() & self._preparation.links_at.of(moving) if known else picks.keys()
        for link_id in sorted(asked):
            row, pick, its = rows[link_id], picks[link_id], known.get(link_id)
            group_a, group_b = row.groups[0][pick.group_a], row.groups[1][pick.group_b]
            a = desk.take(group_a) if its is None or group_a.device.id in moving else its.ends[0].port
            b = desk.take(group_b) if its is None or group_b.device.id in moving else its.ends[1].port
            if its is None or its.ends[0].port != a or its.ends[1].port != b:
                yield self._planned(row, pick, (group_a, group_b), (a, b))

    def _planned(self, row: LinkRows, pick: Pick, groups: tuple[PortGroup, PortGroup], ports: tuple[str, str]) -> PlannedLink:
        """A row of the plan, without arithmetic and notes; every value is the library's own."""
        path = self._prepared.builder.path_of(row, pick)
        light = pick.fit_a.light
        strands = 1 if light is None or light.strands is None else light.strands  # of runs of fiber
        fitted = self._fittings(pick)
        return PlannedLink.of_own(
            id=row.link.id,
            rate=row.rate,
            over=path.run_ids,
            strands=Figures({run.id: strands for run in path.runs if run.fiber is not None}),
            ends=(
                PlannedEnd.of_whole({"device": groups[0].device.id, "port": ports[0], **fitted[0]}),
                PlannedEnd.of_whole({"device": groups[1].device.id, "port": ports[1], **fitted[1]}),
            ),
        )

    def _fittings(self, pick: Pick) -> tuple[dict[str, Any], dict[str, Any]]:
        """What a planned end of either side says of an option, beside its port."""
        if id(pick) not in self._fitted:  # links of one kind have one pick
            self._fitted[id(pick)] = self._fittings_of(pick)
        return self._fitted[id(pick)]

    def _fittings_of(self, pick: Pick) -> tuple[dict[str, Any], dict[str, Any]]:
        a, b = [
            {
                "fitting": fit.fitting,
                "converter": fit.converter.part if fit.converter is not None else None,
                "module": fit.module.part if fit.module is not None else None,
                "cord": cord.part if cord is not None else None,
                "attenuator": attenuator.part if attenuator is not None else None,
            }
            for fit, cord, attenuator in zip((pick.fit_a, pick.fit_b), pick.pair.cords, self._prepared.builder.attenuators_of(pick), strict=True)
        ]
        return a, b

    def _units(self) -> Counter[str]:
        """Part number to units, of all that is chosen."""
        units: Counter[str] = Counter()
        picks = {id(pick): pick for pick in self._picks.values()}
        for which, links in Counter(map(id, self._picks.values())).items():  # links of one kind have one pick
            for fitted in self._fittings(picks[which]):
                for kind in KINDS:
                    if fitted[kind] is not None:
                        units[fitted[kind]] += links
        return units

    def _kept(self) -> Counter[str]:
        """Part number to units that are in place and stay there."""
        kept: Counter[str] = Counter()
        for link_id, pick in self._picks.items() if self._preparation.network.installed else ():
            at_a, at_b = self._prepared.rows[link_id].groups
            fitted = (pick.fit_a, at_a[pick.group_a]), (pick.fit_b, at_b[pick.group_b])
            kept.update(fit.module.part for fit, group in fitted if fit.module is not None and stays(fit, group))
        return kept

    def bill(self) -> tuple[PartLine, ...]:
        """The part numbers of all that is chosen with their units, spares and prices."""
        catalog, all_used, kept = self._preparation.catalog, self._units(), self._kept()
        lines = []
        by_kind: tuple[Mapping[str, Module | Converter | Cord | Attenuator], ...] = (
            catalog.module_by_part,
            catalog.converter_by_part,
            catalog.cord_by_part,
            catalog.attenuator_by_part,
        )
        for kind, by_part in zip(KINDS, by_kind, strict=True):
            for part, used in sorted(all_used.items()):
                item = by_part.get(part)
                if item is None:
                    continue
                steps = self._spares.get(part)
                spares = steps.kept(used) if steps else 0
                order = used - kept[part] + spares
                lines.append(
                    PartLine(part=part, kind=kind, used=used, spares=spares, order=order, unit_price=item.price, total=round((item.price or 0.0) * order, 4))
                )
        return tuple(lines)


def cautions_of(findings: Iterable[Finding], policy: Policy) -> tuple[str, ...]:
    """The cautions of a plan on which this is found."""
    between = any(finding.waived and finding.rule == "earthing" for finding in findings)
    surge = f"Copper between two buildings: surge protection at both ends; {EARTH[0].lower()}{EARTH[1:]}"
    return LASER, GLASS, PLACE, EARTH, FIGURES, *([surge] if between or policy.copper_between_buildings else [])


def notes_of_bill(parts: Iterable[PartLine], catalog: Catalog, policy: Policy) -> list[str]:
    """What a person is to know of a bill: parts without a price, or without a failure rate where spares are planned."""
    notes = []
    parts = tuple(parts)
    unpriced = [line.part for line in parts if line.unit_price is None]
    if unpriced:
        notes.append(f"no price is stated for {', '.join(unpriced)}; counted as 0")
    if policy.spares is not None:
        bought = [line.part for line in parts if line.kind in ("module", "converter")]
        silent = [part for part in bought if (catalog.module_by_part.get(part) or catalog.converter_by_part[part]).fit is None]
        if silent:
            notes.append(f"no failure rate is stated for {', '.join(silent)}; no spares are planned for them")
    return notes


def planned_end(end: FittedEnd) -> PlannedEnd:
    """A fitted end as it stands in a plan."""
    return PlannedEnd.of_own(
        device=end.device.id,
        port=end.port_id,
        fitting=end.fitting,
        converter=end.converter.part if end.converter else None,
        module=end.module.part if end.module else None,
        cord=end.cord.part if end.cord else None,
        attenuator=end.attenuator.part if end.attenuator else None,
    )


def told_link(row: PlannedLink, link: FittedLink, lights: tuple[LinkLight, ...], findings: Iterable[Finding]) -> PlannedLink:
    """A row of the plan with its arithmetic, and with what a person is to know."""
    directions = tuple(
        [
            Direction.of_whole(
                {
                    "from_": light.sender.name,
                    "to": light.receiver.name,
                    "wavelength_nm": light.wavelength_nm,
                    "loss_min_db": light.loss_min_db,
                    "loss_max_db": light.loss_max_db,
                    "available_db": light.available_db,
                    "margin_db": light.margin_db,
                    "rx_dbm": light.rx_dbm,
                    "limited_by": light.limited_by,
                }
            )
            for light in lights
        ]
    )
    notes = notes_of(link, lights, findings)
    told: dict[str, Any] = {"notes": notes} if notes else {}
    return PlannedLink.of_own(id=row.id, rate=row.rate, over=row.over, strands=row.strands, ends=row.ends, directions=directions, **told)


def notes_of(link: FittedLink, lights: Iterable[LinkLight], findings: Iterable[Finding]) -> tuple[str, ...]:
    """What a person is to know of a served link: what was unknown, waived or assumed, and what can do harm."""
    notes = []
    for finding in findings:
        if finding.unknown:
            notes.append(f"unknown: {finding.text}")
        elif finding.waived:
            notes.append(f"waived, at the user's own risk: {finding.text}")
    for index, run in enumerate(link.path.runs):
        if run.fiber is None:
            continue
        if run.fiber.connections is None and run.fiber.measured_loss_db is None:
            notes.append(f"assumed: {run.id} has {link.path.connections_of(index)} connections")
        if run.fiber.connectors is None:
            notes.append(f"assumed: {run.id} states no connectors, so no cords are planned and the connector is not checked")
        elif run.fiber.polish is None:
            notes.append(f"assumed: {run.id} presents flat polish")
    for end in link.ends:
        if end.device.site is None or end.site is None:
            notes.append(f"assumed: {end.device.id} states no site")
    for light in lights:
        if light.is_harmful:
            notes.append(f"caution: {light.receiver.name} may be damaged for good if it is joined without this loss; fit the attenuator first")
    return tuple(dict.fromkeys(notes))
