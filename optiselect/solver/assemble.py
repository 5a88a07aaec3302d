"""From chosen options back to the user's ids: ports, cords, arithmetic, bill, notes and cautions."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from optiselect.model.document import Figures
from optiselect.model.plan import Direction, Finding, PartLine, Plan, PlannedEnd, PlannedLink
from optiselect.rules.fitted import FittedEnd, FittedLink
from optiselect.rules.light import LinkLight, directions_of
from optiselect.rules.served import units_of
from optiselect.solver.audit import kept_ports
from optiselect.solver.choice import Task
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


class Assembly:
    """Reads the choice back into a plan's tables.

    Attributes:
        served: ids of served links. links, parts, notes: as in the plan (notes of links come with `told`).
    """

    def __init__(self, preparation: Preparation, prepared: Prepared, picks: dict[str, Pick], task: Task) -> None:
        self._preparation, self._prepared, self._task = preparation, prepared, task
        fitted = self._fit(picks)
        self.served = frozenset(picks)
        self._fitted = {link.asked.link.id: link for link in fitted}
        self._lights = {link.asked.link.id: directions_of(link) for link in fitted}
        self.links = tuple(planned(link, self._lights[link.asked.link.id]) for link in fitted)
        self.parts = self._bill(fitted)
        self.notes = self._notes(fitted)

    def told(self, plan: Plan, findings: Iterable[Finding]) -> Plan:
        """The plan with what its check found: notes of each link, and the cautions that follow."""
        of_link: dict[str | None, list[Finding]] = defaultdict(list)
        for finding in findings:
            of_link[finding.link].append(finding)
        links = []
        for link in plan.links:
            notes = notes_of(self._fitted[link.id], self._lights[link.id], of_link[link.id])
            links.append(link.model_copy(update={"notes": notes}) if notes else link)
        between = any(finding.waived and finding.rule == "earthing" for several in of_link.values() for finding in several)
        surge = f"Copper between two buildings: surge protection at both ends; {EARTH[0].lower()}{EARTH[1:]}"
        cautions = (LASER, GLASS, PLACE, EARTH, FIGURES, *([surge] if between or self._preparation.policy.copper_between_buildings else []))
        return plan.model_copy(update={"links": tuple(links), "cautions": cautions})

    def _fit(self, picks: dict[str, Pick]) -> list[FittedLink]:
        """Give each end its port, pinned ends first, so that a group's ports are counted off in order."""
        desk = PortDesk()
        names: dict[tuple[str, int], str] = {}
        for link_id, pick in sorted(picks.items()):
            rows = self._prepared.rows[link_id]
            for side, index in enumerate((pick.group_a, pick.group_b)):
                port = desk.take(rows.groups[side][index])
                assert port is not None  # counted by the choice, or matched to a port after it (rounds.settle_ports)
                names[link_id, side] = port
        return [
            self._prepared.builder.fitted_link(self._rows(link_id), pick, (names[link_id, 0], names[link_id, 1])) for link_id, pick in sorted(picks.items())
        ]

    def _rows(self, link_id: str) -> LinkRows:
        return self._prepared.rows[link_id]

    def _bill(self, fitted: list[FittedLink]) -> tuple[PartLine, ...]:
        catalog = self._preparation.catalog
        units = units_of(tuple(fitted))
        kept: Counter[str] = Counter(self._preparation.network.installed[port] for port in kept_ports(tuple(fitted)))
        lines = []
        kinds = (
            ("module", catalog.module_by_part),
            ("converter", catalog.converter_by_part),
            ("cord", catalog.cord_by_part),
            ("attenuator", catalog.attenuator_by_part),
        )
        for kind, by_part in kinds:
            for part, used in units.items():
                item = by_part.get(part)
                if item is None:
                    continue
                steps = self._task.spares.get(part)
                spares = sum(used >= threshold for threshold in steps.units) if steps else 0
                order = used - kept[part] + spares
                lines.append(
                    PartLine(part=part, kind=kind, used=used, spares=spares, order=order, unit_price=item.price, total=round((item.price or 0.0) * order, 4))
                )
        return tuple(lines)

    def _notes(self, fitted: list[FittedLink]) -> list[str]:
        notes = []
        unpriced = [line.part for line in self.parts if line.unit_price is None]
        if unpriced:
            notes.append(f"no price is stated for {', '.join(unpriced)}; counted as 0")
        if self._preparation.policy.spares is not None:
            catalog = self._preparation.catalog
            silent = [
                line.part
                for line in self.parts
                if line.kind in ("module", "converter") and (catalog.module_by_part.get(line.part) or catalog.converter_by_part[line.part]).fit is None
            ]
            if silent:
                notes.append(f"no failure rate is stated for {', '.join(silent)}; no spares are planned for them")
        return notes


def planned_end(end: FittedEnd) -> PlannedEnd:
    """A fitted end as it stands in a plan."""
    return PlannedEnd.model_construct(
        device=end.device.id,
        port=end.port_id,
        fitting=end.fitting,
        converter=end.converter.part if end.converter else None,
        module=end.module.part if end.module else None,
        cord=end.cord.part if end.cord else None,
        attenuator=end.attenuator.part if end.attenuator else None,
    )


def planned(link: FittedLink, lights: Iterable[LinkLight]) -> PlannedLink:
    """A row of the plan; built without validation, since every figure is the library's own."""
    strands = (link.a.light.strands or 1) if link.a.light is not None and link.path.medium == "fiber" else 0
    a, b = planned_end(link.a), planned_end(link.b)
    directions = tuple(
        Direction.model_construct(
            from_=light.sender.name,
            to=light.receiver.name,
            wavelength_nm=light.wavelength_nm,
            loss_min_db=light.loss_min_db,
            loss_max_db=light.loss_max_db,
            available_db=light.available_db,
            margin_db=light.margin_db,
            rx_dbm=light.rx_dbm,
            limited_by=light.limited_by,
        )
        for light in lights
    )
    return PlannedLink.model_construct(
        id=link.asked.link.id,
        rate=link.rate,
        over=tuple(run.id for run in link.path.runs),
        strands=Figures({run.id: strands for run in link.path.runs if run.fiber}),
        ends=(a, b),
        directions=directions,
    )


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
