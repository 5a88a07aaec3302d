"""The acceptance sheet comes back filled in: its readings become the network's, the site is planned again, and what changed is told."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from optiselect.errors import DocumentError, Fault
from optiselect.formats.limits import MAX_BYTES
from optiselect.handover.changes import Change, changes_between
from optiselect.handover.dossier import Dossier, dossier
from optiselect.handover.limits import acceptance_sheet
from optiselect.handover.tables import Cell
from optiselect.handover.workbook import read_workbook
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.optics.acceptance import END_CONNECTIONS_SEEN
from optiselect.optics.decibels import milli
from optiselect.solver.solve import solve
from optiselect.solver.standing import standing
from optiselect.standards.acceptance import METHODS, Method

_LOSS = re.compile(r"[0-9]{1,3}(\.[0-9]{1,6})?", re.ASCII)
_MOST_DB = 200.0
_WHAT = "acceptance sheet"
Row = Mapping[str, Cell]


@dataclass(frozen=True)
class Reading:
    """One loss that was measured.

    Attributes:
        run, wavelength_nm, method: what was measured, where and how.
        loss_db: the greater of both directions, as it was read.
        unseen_db: what the policy allows for the end connections that the method does not see.
        cable_limit_db, channel_limit_db: the limits for this method; None where there is none.
    """

    run: str
    wavelength_nm: int
    method: Method
    loss_db: float
    unseen_db: float
    cable_limit_db: float | None
    channel_limit_db: float | None

    @property
    def whole_db(self) -> float:
        """The loss of the run with both of its end connections: what the network states from now on."""
        return (milli(self.loss_db) + milli(self.unseen_db)) / 1000

    @property
    def verdicts(self) -> tuple[str, ...]:
        """Which limits it fails, in words; none when it passes."""
        said = f"{self.run} at {self.wavelength_nm} nm reads {self.loss_db:.2f} dB ({self.method})"
        limits = (("cable", self.cable_limit_db), ("channel", self.channel_limit_db))
        return tuple(f"{said}, over its {name} limit of {limit:.2f} dB" for name, limit in limits if limit is not None and milli(self.loss_db) > milli(limit))


@dataclass(frozen=True)
class Remeasured:
    """What the readings did.

    Attributes:
        network: with the readings as `measured_loss_db`. plan: of that network.
        readings: every one that was filled in. failed: limits that are not met. changes: between the plan before and this one.
    """

    network: Network
    plan: Plan
    readings: tuple[Reading, ...]
    failed: tuple[str, ...]
    changes: tuple[Change, ...]

    def text(self) -> str:
        """All of it in words."""
        count = len(self.readings)
        added = [f"  {reading.run} at {reading.wavelength_nm} nm: {reading.unseen_db:.2f} dB added" for reading in self.readings if reading.unseen_db]
        parts = [
            f"{count} reading{'' if count == 1 else 's'} taken over.",
            "Every reading is within its limits." if not self.failed else "Over a limit:\n" + "\n".join(f"  {verdict}" for verdict in self.failed),
            "For end connections that the method does not see:\n" + "\n".join(added) if added else "",
            "Nothing changes in the plan." if not self.changes else "What changed:\n" + "\n".join(f"  {change}" for change in self.changes),
        ]
        return "\n\n".join(part for part in parts if part)


def read_back(plan: Plan, sheet: str | Path, network: Network, catalog: Catalog, policy: Policy | None = None) -> Remeasured:
    """Take the readings of a filled acceptance sheet over into the network, plan again and compare.

    A reading replaces the computed loss of its run at that wavelength, both extremes. To a reading by two or three cords the policy's
    allowance is added for each end connection that it does not see.

    Args:
        plan: the plan that the sheet was handed out with.
        sheet: the workbook of the papers (.xlsx), or the acceptance sheet by itself (.csv).
        network: that the plan was made from. catalog: likewise. policy: likewise; omitted = all defaults.

    Raises:
        DocumentError: with every cell that cannot be used.
        MismatchError: when a document is not the one that the plan was made from.
    """
    of = dossier(plan, network, catalog, policy)
    readings = readings_of(Path(sheet), of)
    measured = with_readings(network, readings)
    again = standing(of.plan, solve(measured, catalog, of.policy), measured, catalog, of.policy)
    failed = tuple(verdict for reading in readings for verdict in reading.verdicts)
    return Remeasured(measured, again, readings, failed, changes_between(plan, again))


def readings_of(path: Path, of: Dossier) -> tuple[Reading, ...]:
    """The readings of a filled sheet; rows that were left blank are none.

    Raises:
        DocumentError: with every cell that cannot be used.
    """
    rows = read_workbook(path).get("limits", []) if path.suffix.lower() == ".xlsx" else _csv_rows(path)
    limits = {(record["run"], record["wavelength_nm"]): record for record in acceptance_sheet(of).records()}
    faults: list[Fault] = []
    readings: dict[tuple[str, int], Reading] = {}
    for number, row in enumerate(rows, start=2):
        reading = _reading(row, limits, of.policy, f"{path.name} row {number}", faults)
        if reading is None:
            continue
        key = reading.run, reading.wavelength_nm
        if key in readings:
            faults.append(Fault("run", f"{reading.run} at {reading.wavelength_nm} nm is measured twice; leave one", f"{path.name} row {number}"))
        readings[key] = reading
    if not rows:
        faults.append(Fault("", "no acceptance sheet: it has no rows", path.name))
    if faults:
        raise DocumentError(faults, _WHAT)
    return tuple(readings[key] for key in sorted(readings))


def with_readings(network: Network, readings: Iterable[Reading]) -> Network:
    """The network with readings as `measured_loss_db` of their runs; what was stated at other wavelengths stays."""
    by_run: dict[str, dict[str, float]] = {}
    for reading in readings:
        by_run.setdefault(reading.run, {})[str(reading.wavelength_nm)] = reading.whole_db
    stated = network.stated()
    for run in stated.get("runs", []):
        if run["id"] in by_run:
            known = {nm: loss for nm, loss in (run["fiber"].get("measured_loss_db") or {}).items() if str(int(float(nm))) not in by_run[run["id"]]}
            run["fiber"]["measured_loss_db"] = {**known, **by_run[run["id"]]}
    return Network(**stated)


def _csv_rows(path: Path) -> list[Row]:
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
        if len(raw) > MAX_BYTES:
            raise DocumentError([Fault("", f"larger than {MAX_BYTES // 1024 // 1024} MB", path.name)], _WHAT)
        return [
            {str(name): cell or None for name, cell in row.items()} for row in csv.DictReader(io.StringIO(raw.decode("utf-8-sig"), newline=""), strict=True)
        ]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise DocumentError([Fault("", f"cannot be read as CSV: {getattr(error, 'strerror', None) or str(error)[:120]}", path.name)], _WHAT) from None


def _reading(row: Row, limits: Mapping[tuple[Cell, Cell], Row], policy: Policy, place: str, faults: list[Fault]) -> Reading | None:
    read = [_loss(row, name, place, faults) for name in ("measured_loss_db", "measured_loss_back_db")]
    losses = [loss for loss in read if loss is not None]
    if not losses:
        return None
    run, nm = _text(row.get("run")), _text(row.get("wavelength_nm"))
    limit = limits.get((run, int(nm))) if nm.isascii() and nm.isdecimal() and len(nm) < 5 else None
    if limit is None:
        faults.append(Fault("run", f"the plan has no run {run[:60]!r} to be tested at {nm[:20]!r} nm; keep run and wavelength as they were printed", place))
    method = next((method for method in METHODS if method == _text(row.get("method")).strip().lower()), None)
    if method is None:
        faults.append(Fault("method", f"say how it was measured: {', '.join(get_args(Method))}; the reading means nothing without", place))
    if limit is None or method is None:
        return None
    unseen = END_CONNECTIONS_SEEN["one-cord"] - END_CONNECTIONS_SEEN[method]
    names = [f"{kind}_limit_{method.replace('-', '_')}_db" for kind in ("cable", "channel")]
    cable, channel = (value if isinstance(value, float) else None for value in (limit[name] for name in names))
    return Reading(run, int(nm), method, max(losses), unseen * policy.connection_loss_db, cable, channel)


def _loss(row: Row, name: str, place: str, faults: list[Fault]) -> float | None:
    text = _text(row.get(name)).strip()
    if not text:
        return None
    if not _LOSS.fullmatch(text) or float(text) > _MOST_DB:
        faults.append(Fault(name, f"a loss in dB is due here, as 1.25, from 0 to {_MOST_DB:g}, not {text[:40]!r}", place))
        return None
    return float(text)


def _text(cell: Cell) -> str:
    """A cell as text, without the apostrophe that guards a text in CSV."""
    text = "" if cell is None else f"{cell:g}" if isinstance(cell, float) else str(cell)
    return text[1:] if text[:1] == "'" and text[1:2] in "=+-@\t\r\n" else text
