"""The papers by name, each drawn from a plan and its documents."""

from __future__ import annotations

from collections.abc import Callable

from optiselect.errors import UnknownNameError
from optiselect.handover.bill_sheet import bill_sheet
from optiselect.handover.cautions import cautions_sheet
from optiselect.handover.cords import cord_list
from optiselect.handover.dossier import Dossier
from optiselect.handover.labels import labels_sheet
from optiselect.handover.limits import acceptance_sheet
from optiselect.handover.ports import port_schedule
from optiselect.handover.questions import questions_sheet
from optiselect.handover.sheet import Sheet
from optiselect.handover.spares_list import spares_list
from optiselect.handover.strand_sheet import strand_sheet

PAPERS: dict[str, Callable[[Dossier], Sheet]] = {
    "bill": bill_sheet,
    "ports": port_schedule,
    "cords": cord_list,
    "strands": strand_sheet,
    "limits": acceptance_sheet,
    "labels": labels_sheet,
    "spares": spares_list,
    "cautions": cautions_sheet,
    "questions": questions_sheet,
}
"""Every paper that is a table, in the order in which it is handed over."""


def paper(dossier: Dossier, name: str) -> Sheet:
    """One paper by its name.

    Raises:
        UnknownNameError: when there is no paper of that name; the message lists those known.
    """
    if name not in PAPERS:
        raise UnknownNameError(f"there is no paper {name!r}; there are {', '.join(PAPERS)}")
    return PAPERS[name](dossier)
