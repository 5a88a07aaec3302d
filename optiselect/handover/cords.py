"""The cord list: every patch cord by itself, with what it joins and whatever is special about it."""

from __future__ import annotations

from optiselect.handover.bill import describe
from optiselect.handover.dossier import Dossier
from optiselect.handover.ports import label_of, strands_at
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell
from optiselect.model.catalog import Cord
from optiselect.model.plan import PlannedLink
from optiselect.rules.fitted import FittedEnd, FittedLink

LEGS = "single-mode leg (offset launch) to the transmitter, multimode leg to the receiver"
"""Source: IEEE 802.3, 38.11.4, as restated in makers' installation guides."""
_ABOUT = (
    "One row for each cord. Where no length is stated, measure on site before ordering.",
    f"Mode-conditioning cords: {LEGS} (IEEE 802.3, 38.11.4); one at each end of the link, and never on OM3 or better.",
    "At panels two runs are taken to meet in one adapter; a frame that is cross-connected with cords has one connection more.",
    "Clean and inspect every end face before it is mated. Green plugs (APC) never go into blue or beige sockets.",
)
_COLUMNS = (
    Column("cord", "cord"),
    Column("description", "description"),
    Column("length_m", "length, m", "figure", 1),
    Column("link", "link"),
    Column("at", "at port"),
    Column("near", "plugs at the port"),
    Column("far", "plugs at the run"),
    Column("run", "run"),
    Column("strands", "strands", "count"),
    Column("special", "special"),
    Column("legs", "which leg where"),
    Column("label", "label, both ends"),
)


def cord_list(dossier: Dossier) -> Sheet:
    """Every cord of the plan, by link and end."""
    rows: list[tuple[Cell, ...]] = []
    for planned, fitted in dossier.served:
        for side, end in enumerate(fitted.ends):
            if end.cord is not None:
                run_id = planned.over[0 if side == 0 else -1]
                near, far = _plugs(end, end.cord, fitted, side)
                rows.append(
                    (
                        *(end.cord.part, describe(end.cord), end.cord.length_m, planned.id, end.name, near, far, run_id, end.cord.strands),
                        *(_special(end.cord, near, far), _legs(dossier, planned, side, end.cord), label_of(dossier, planned, side)),
                    )
                )
    return Sheet("cords", "Cord list", _ABOUT, _COLUMNS, tuple(rows))


def _plugs(end: FittedEnd, cord: Cord, fitted: FittedLink, side: int) -> tuple[str, str]:
    """Connector and polish of the cord at the port and at the run."""
    faces = cord.polish or ("", "")
    both = [f"{connector} {polish}".strip() for connector, polish in zip(cord.connectors, faces, strict=True)]
    shown = fitted.path.presents(side)
    wanted = end.light.connector if end.light is not None else None
    turned = cord.connectors[0] != wanted or (shown is not None and cord.connectors[0] == cord.connectors[1] and _angled(faces[0]))
    near, far = reversed(both) if turned else both
    return near, far


def _angled(polish: str) -> bool:
    return polish == "APC"


def _special(cord: Cord, near: str, far: str) -> str | None:
    words = []
    if cord.conditioning:
        words.append("mode-conditioning")
    if near.split()[0] != far.split()[0]:
        words.append("hybrid")
    if near.endswith("APC") != far.endswith("APC"):
        words.append("flat to angled")
    return ", ".join(words) or None


def _legs(dossier: Dossier, planned: PlannedLink, side: int, cord: Cord) -> str | None:
    """Which leg goes where: the strand that the port lights, and the one that it hears."""
    sent, heard = strands_at(dossier, planned, side)
    if sent is None or cord.strands == 1:
        return None
    joins = f"transmit to strand {sent}, receive from strand {heard}"
    return f"{LEGS}; {joins}" if cord.conditioning else joins
