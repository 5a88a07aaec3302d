"""The part that is missing: the weakest module that would serve a link, so that it can be asked for.

Every figure is the least that the rules leave: the loss of the path and the design margin as budget, the length as reach, the
air of the sites with the rise as temperature. The part is then put into the catalog and the link asked again.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Any

from optiselect.explain.ground import Ground
from optiselect.model.catalog import Optics
from optiselect.model.network import Cage, FixedOptic, Link, SharedPort
from optiselect.model.refusal import MissingPart
from optiselect.model.terms import FORM_TAKES, Connector, Form, Rate
from optiselect.optics.decibels import sum_db
from optiselect.optics.dispersion import worst_dispersion_ps_nm_km
from optiselect.rules.fitted import Asked, FittedEnd, Path
from optiselect.rules.light import path_loss_millidb, penalty_db
from optiselect.rules.panel import cord_needed
from optiselect.solver.fittings import PortGroup
from optiselect.standards.copper import socket_reach_m
from optiselect.standards.power import usual_module_power_w
from optiselect.standards.transceiver import Transceiver, transceiver

Window = tuple[float, float]
SINGLE_MODE: tuple[Window, ...] = ((1290.0, 1330.0), (1530.0, 1565.0))
MULTIMODE: tuple[Window, ...] = ((840.0, 860.0), (1290.0, 1330.0))
ONE_STRAND: tuple[Window, Window] = ((1290.0, 1330.0), (1480.0, 1500.0))
"""Windows in which modules are sold (common practice, no source)."""
_NEAR_MILLIDB = 12_000
"""Up to this loss the cheaper window of 1310 nm is asked for, beyond it the one that loses least (common practice, no source)."""
MOST_BUDGET_DB = 45.0
MOST_REACH_M = {"single-mode": 120_000.0, "multimode": 2_000.0}
"""Beyond these nothing pluggable is sold (common practice, no source), so nothing is asked for."""
_PATHS = 4


@dataclass(frozen=True)
class Missing:
    """A part, or two that belong together on one strand, as the buyer is asked for and as catalog modules."""

    spec: MissingPart
    modules: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class _Socket:
    """An end that takes a module: its port group and, of a fixed optic, what is soldered there."""

    group: PortGroup
    soldered: Transceiver | None

    @property
    def name(self) -> str:
        return f"{self.group.device.id}/{self.group.names[0]}"


def missing_parts(ground: Ground, link: Link, rate: Rate, *, strands: int | None = None) -> Iterator[Missing]:
    """The weakest parts that could serve a link at a rate, over each of its first paths, the least budget first.

    Args:
        strands: 1 or 2, to ask for that kind only; omitted = two where they are free, else one.
    """
    found: list[tuple[float, int, Missing]] = []
    for place, path in enumerate(ground.paths(link)[:_PATHS]):
        sockets = [_socket(ground, link, side, rate, path) for side in (0, 1)]
        if sockets[0] is None or sockets[1] is None or all(socket.soldered for socket in sockets if socket):
            continue
        part = _Part(ground, link, rate, path, (sockets[0], sockets[1]))
        missing = part.copper() if path.medium != "fiber" else part.fiber(strands)
        if missing is not None:
            found.append((missing.spec.budget_db or 0.0, place, missing))
    yield from (missing for _, _, missing in sorted(found, key=lambda row: row[:2]))


def _socket(ground: Ground, link: Link, side: int, rate: Rate, path: Path) -> _Socket | None:
    """Where a module would go: a cage that runs the rate and may take the medium; else the port's own optic."""
    for group in ground.groups(link, side):
        port = group.port
        stays = group.installed is not None and ground.policy.keep_installed == "must"
        if isinstance(port, Cage | SharedPort) and rate in port.rates and (port.media is None or path.medium in port.media) and not stays:
            return _Socket(group, None)
    for group in ground.groups(link, side):
        if isinstance(group.port, FixedOptic) and path.medium == "fiber":
            return _Socket(group, transceiver(ground.fittings.figures_of(group.port.optic), rate))
    return None


class _Part:
    """The figures of one part for one path."""

    def __init__(self, ground: Ground, link: Link, rate: Rate, path: Path, sockets: tuple[_Socket, _Socket]) -> None:
        self._ground, self._link, self._rate, self._path = ground, link, rate, path
        self._sockets = sockets
        self._new = [socket for socket in sockets if socket.soldered is None]

    def copper(self) -> Missing | None:
        """A copper module, where the standard's reach covers the length and no other building is met."""
        category, length_m = self._path.category, self._path.length_m
        between = len(self._path.zones) > 1 and not self._ground.policy.copper_between_buildings
        reach_m = socket_reach_m(self._rate, category) if category is not None and self._path.medium == "copper" else None
        form = self._form()
        if between or reach_m is None or reach_m < length_m or form is None or category is None:
            return None
        common = self._common(form)
        module = common | {"medium": "copper", "reach_m": {category: length_m}}
        return self._told(module, {}, f"{category}, {length_m:g} m")

    def fiber(self, strands: int | None) -> Missing | None:
        """An optical module, or two for one strand."""
        form = self._form()
        soldered = next((socket.soldered for socket in self._sockets if socket.soldered is not None), None)
        free = min(run.fiber.strands - run.fiber.strands_in_use - self._ground.policy.reserve_strands for run in self._path.runs if run.fiber)
        wanted = soldered.strands if soldered is not None else strands or min(free, 2)
        if form is None or wanted not in (1, 2) or wanted > free or len(self._path.cores) != 1 or (strands is not None and wanted != strands):
            return None
        if soldered is not None:
            return self._beside(form, soldered)
        if wanted == 1:
            return None if self._path.is_multimode else self._pair(form)
        windows = MULTIMODE if self._path.is_multimode else SINGLE_MODE
        options = [(loss[1], window) for window in windows if (loss := path_loss_millidb(self._path, window, self._ground.policy)) is not None]
        near_db, near = options[0]
        window = near if not self._path.is_multimode and near_db <= _NEAR_MILLIDB else min(options)[1]
        return self._optical(form, 2, ((window, window),))

    def _pair(self, form: Form) -> Missing | None:
        one, other = ONE_STRAND
        return self._optical(form, 1, ((one, other), (other, one)))

    def _optical(self, form: Form, strands: int, windows: tuple[tuple[Window, Window], ...]) -> Missing | None:
        """Parts that send and receive in these windows, alike but for that; the least powers and sensitivity that serve."""
        policy = self._ground.policy
        modules, budget = [], 0.0
        for _, heard in windows:
            loss = path_loss_millidb(self._path, heard, policy)
            if loss is None:  # pragma: no cover - every grade has figures at these windows
                return None
            budget = max(budget, sum_db(loss[1] / 1000, policy.design_margin_db))
        least_dbm = -9.0 if budget <= 15 else -3.0 if budget <= 27 else 0.0
        for sent, heard in windows:
            loss = path_loss_millidb(self._path, heard, policy)
            assert loss is not None  # looked at above
            most_dbm = least_dbm + 3
            powers = {"tx_dbm": [least_dbm, most_dbm], "rx_dbm": [sum_db(least_dbm, -budget), max(0.0, sum_db(most_dbm, -loss[0] / 1000))]}
            modules.append(self._lit(form, strands, sent, heard) | powers)
        return self._specified(modules, budget)

    def _beside(self, form: Form, far: Transceiver) -> Missing | None:
        """The part that goes with an optic that is soldered at the other end."""
        if far.tx_nm is None or far.rx_nm is None or far.rx_dbm is None or far.strands is None:
            return None
        core, policy = self._path.cores[0], self._ground.policy
        sent = next((window for window in (*SINGLE_MODE, *MULTIMODE) if far.rx_nm[0] <= window[0] and window[1] <= far.rx_nm[1]), far.rx_nm)
        if far.strands == 1 and far.tx_nm[0] < sent[1] and sent[0] < far.tx_nm[1]:
            return None
        out, back, launched = path_loss_millidb(self._path, sent, policy), path_loss_millidb(self._path, far.tx_nm, policy), far.tx_dbm(core)
        rows = tuple(row for row in self._path.grades_at(sent) if row is not None)
        if out is None or back is None or launched is None:
            return None
        least_dbm = sum_db(out[1] / 1000, far.rx_dbm[0], penalty_db(far, rows, policy))
        most_dbm = min(least_dbm + 3, sum_db(far.rx_dbm[1], out[0] / 1000))
        sensitivity = sum_db(launched[0], -back[1] / 1000, -policy.design_margin_db)
        if most_dbm < least_dbm:
            return None
        powers = {"tx_dbm": [least_dbm, most_dbm], "rx_dbm": [sensitivity, max(sensitivity, sum_db(launched[1], -back[0] / 1000), 0.0)]}
        return self._specified([self._lit(form, far.strands, sent, far.tx_nm) | powers], None)

    def _lit(self, form: Form, strands: int, sent: Window, heard: Window) -> dict[str, Any]:
        """What an optical part has beside its powers."""
        rows = sorted({row or "" for row in self._path.grades_at(sent)})
        length_m = float(ceil(self._path.length_m))
        reach: dict[str, float] = dict.fromkeys(rows, length_m) if self._path.is_multimode else {"single-mode": length_m}
        lit: dict[str, Any] = {"medium": "fiber", "mode": "multimode" if self._path.is_multimode else "single-mode", "strands": strands, "reach_m": reach}
        if not self._path.is_multimode:
            lit["dispersion_ps_nm"] = float(ceil(worst_dispersion_ps_nm_km(sent) * self._path.length_m / 1000))
        return self._common(form) | lit | {"tx_nm": list(sent), "rx_nm": list(heard), "connector": self._connector(strands)}

    def _specified(self, modules: list[dict[str, Any]], budget: float | None) -> Missing | None:
        mode = modules[0]["mode"]
        if (budget or 0.0) > MOST_BUDGET_DB or self._path.length_m > MOST_REACH_M[mode] or "" in modules[0]["reach_m"]:
            return None
        first = modules[0]
        figures = {key: first[key] for key in ("mode", "strands", "tx_nm", "rx_nm", "tx_dbm", "rx_dbm")} | (
            {"budget_db": round(budget, 3)} if budget is not None else {}
        )
        nm = " and ".join(f"{module['tx_nm'][0]:g}-{module['tx_nm'][1]:g}" for module in modules)
        pair = "two for one strand" if len(modules) == 2 else f"{first['strands']} strand{'' if first['strands'] == 1 else 's'}"
        sent, heard = first["tx_dbm"], first["rx_dbm"]
        light = f"{budget:.1f} dB budget" if budget is not None else f"sends {sent[0]:g} to {sent[1]:g} dBm, bears {heard[0]:g} to {heard[1]:g} dBm"
        words = f"{mode}, {pair}, {nm} nm, {light}, {_far(self._path.length_m)} {' and '.join(self._path.grades)}"
        return self._told(first, figures, words, modules[1:])

    def _told(self, module: dict[str, Any], figures: dict[str, Any], words: str, more: list[dict[str, Any]] | None = None) -> Missing:
        bears = module.get("temperature_c")
        climate = f", {bears[0]:g} to {bears[1]:g} C" if bears else ""
        coded = f", {' and '.join(module['coding'])}" if module["coding"] != ["open"] else ""
        spec = MissingPart(
            for_ends=tuple(socket.name for socket in self._new),
            form=module["form"],
            rate=self._rate,
            medium=module["medium"],
            reach_m=max(module["reach_m"].values()),
            grade=", ".join(self._path.grades) or str(self._path.category),
            dispersion_ps_nm=module.get("dispersion_ps_nm"),
            temperature_c=bears,
            power_w=module["power_w"],
            coding=tuple(module["coding"]),
            laser_class=module.get("laser_class"),
            text=f"{module['form']} {self._rate}, {words}{climate}, {module['power_w']:g} W{coded}",
            **figures,
        )
        several = [module, *(more or [])]
        name = f"TO-ASK-FOR-{self._rate}"
        taken = {item.part for item in self._ground.catalog.modules}
        while any(f"{name}-{index}" in taken for index in (1, 2)):
            name += "-X"
        return Missing(spec, tuple(item | {"part": f"{name}-{index}"} for index, item in enumerate(several, 1)))

    # -- what both media ask -------------------------------------------------------------------------------------------

    def _form(self) -> Form | None:
        """The form that the cages of all new ends take."""
        takes = [FORM_TAKES[socket.group.port.form] for socket in self._new if isinstance(socket.group.port, Cage | SharedPort)]
        return next((form for form in takes[0] if all(form in others for others in takes)), None)

    def _common(self, form: Form) -> dict[str, Any]:
        figures: dict[str, Any] = {"form": form, "rates": [self._rate], "coding": self._coding(), "power_w": self._power_w()}
        sites = [site for socket in self._new if (site := self._ground.fittings.site_of(socket.group.device)) is not None]
        spans = [site.ambient_c for site in sites if site.ambient_c is not None]
        if spans:
            figures["temperature_c"] = [min(low for low, _ in spans), sum_db(max(high for _, high in spans), self._ground.policy.temperature_rise_c)]
        if self._path.medium == "fiber" and self._ground.policy.laser_classes:
            figures["laser_class"] = self._ground.policy.laser_classes[0]
        return figures

    def _power_w(self) -> float:
        limits = []
        for socket in self._new:
            port = socket.group.port
            if isinstance(port, Cage | SharedPort):  # pragma: no branch - a new part goes into a cage
                limits.append(port.module_power_w if port.module_power_w is not None else usual_module_power_w(port.form))
            if socket.group.device.module_power_w is not None:
                limits.append(socket.group.device.module_power_w)
        return min(limits)

    def _coding(self) -> list[str]:
        """A coding that all devices take, or one for each."""
        accepts = [socket.group.device.accepts for socket in self._new if socket.group.device.accepts is not None]
        if not accepts:
            return ["open"]
        common = [code for code in accepts[0] if all(code in others for others in accepts)]
        return common[:1] or sorted({codes[0] for codes in accepts if codes})

    def _connector(self, strands: int) -> Connector:
        """The plug for which the catalog has the cords; LC where none has them all, or none are planned."""
        for connector in ("LC", *dict.fromkeys(shown[0] for side in (0, 1) if (shown := self._path.presents(side)))):
            if all(self._has_cord(connector, strands, side) for side in (0, 1)):
                return connector
        return "LC"

    def _has_cord(self, connector: str, strands: int, side: int) -> bool:
        light = transceiver_of(connector, strands, self._rate)
        need = cord_needed(light, self._path, side, False)
        if need is None:
            return True
        asked = Asked(self._link, self._rate, self._path, self._ground.policy)
        group = self._sockets[side].group
        end = FittedEnd(group.device, None, group.names[0], group.port, "module", light)
        return self._ground.accessories.cord(end, asked, side, False) is not None


def _far(length_m: float) -> str:
    """A length for the eye."""
    return f"{length_m:g} m" if length_m < 10_000 else f"{length_m / 1000:g} km"


def transceiver_of(connector: str, strands: int, rate: Rate) -> Transceiver:
    """A transceiver of which only plug and strands are known."""
    return transceiver(Optics(connector=connector, strands=strands, medium="fiber", rates=(rate,)), rate)
