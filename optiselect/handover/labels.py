"""Labels: one for each port that carries a link, and for both ends of its cord."""

from __future__ import annotations

from optiselect.handover.dossier import Dossier
from optiselect.handover.ports import in_ranges, label_of
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
            run_id = planned.over[0 if side == 0 else -1]
            numbers = in_ranges([str(number) for number in dossier.strands_of(planned.id, run_id)])
            rows.append(
                (
                    *(end.device, end.port, planned.id, f"{far.device}/{far.port}", f"{run_id} {numbers}".strip()),
                    *(fitted.ends[side].holds, 3 if end.cord else 1, label_of(dossier, planned, side)),
                )
            )
    rows.sort(key=lambda row: (str(row[0]), str(row[1])))
    about = ("One label for the port, and one for each end of its cord. The code holds the port, by which everything else is found on the port schedule.",)
    return Sheet("labels", "Labels", about, _COLUMNS, tuple(rows))
