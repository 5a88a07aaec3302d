"""Labels: one for each port that carries a link, and for both ends of its cord."""

from __future__ import annotations

from optiselect.handover.dossier import Dossier
from optiselect.handover.ports import cable_of, label_of
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell

_COLUMNS = (
    Column("device", "device"),
    Column("port", "port"),
    Column("link", "link"),
    Column("far_end", "far end"),
    Column("cable", "run and strands"),
    Column("fitted", "fitted"),
    Column("copies", "copies", "count"),
    Column("text", "text"),
)


def labels_sheet(dossier: Dossier) -> Sheet:
    """Every label, by device and port. Copies: one for the port, and two for its cord where there is one."""
    rows: list[tuple[Cell, ...]] = []
    for planned, fitted in dossier.served:
        for side, end in enumerate(planned.ends):
            far = planned.ends[1 - side]
            rows.append(
                (
                    *(end.device, end.port, planned.id, f"{far.device}/{far.port}", cable_of(dossier, planned, side)),
                    *(fitted.ends[side].holds, 3 if end.cord else 1, label_of(dossier, planned, side)),
                )
            )
    rows.sort(key=lambda row: (str(row[0]), str(row[1])))
    about = ("One label for the port, and one for each end of its cord. The code holds the port, by which everything else is found on the port schedule.",)
    return Sheet("labels", "Labels", about, _COLUMNS, tuple(rows))
