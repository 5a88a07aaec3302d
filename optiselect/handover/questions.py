"""Open questions: every assumed default, every unknown, and every figure from memory or common practice that the answer leaned on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from optiselect.handover.dossier import Dossier
from optiselect.handover.leaned_on import weak_figures
from optiselect.handover.sheet import Column, Sheet, listed
from optiselect.handover.tables import Cell
from optiselect.model.catalog import Cord
from optiselect.model.policy import Policy
from optiselect.standards.colors import strands_a_tube

_COLUMNS = (
    Column("kind", "kind"),
    Column("question", "what is not certain"),
    Column("where", "where"),
    Column("count", "places", "count"),
    Column("to_do", "how to settle it"),
)
_MOST_NAMED = 12
_NOTES = {
    "unknown: ": ("unknown", "state the figure and plan again"),
    "assumed: ": ("assumed", "confirm on site, or state it and plan again"),
    "waived, at the user's own risk: ": ("waived", "whoever waived it answers for it; put it in writing"),
}
_ALLOWANCES: tuple[tuple[str, str, str], ...] = (
    ("design_margin_db", "design margin of {value:g} dB, where an end states no penalty", "common practice, no source"),
    ("repair_allowance_db", "repair allowance of {value:g} dB on every link", "default of this library, no source"),
    ("connection_loss_db", "{value:g} dB for each connection", "TIA-568.3-D, greatest loss of a mated pair"),
    ("splice_loss_db", "{value:g} dB for each splice", "TIA-568.3-D, greatest loss of a splice"),
    ("temperature_rise_c", "{value:g} K from the air around a device to the case of its modules", "from memory"),
)
"""Figures of the policy that have a default: field, sentence, source of the default."""


def questions_sheet(dossier: Dossier) -> Sheet:
    """Everything that should be confirmed, unknown figures first."""
    rows: list[tuple[str, str, list[str], str]] = []
    rows += _of_notes(dossier)
    rows += [("plan", note, [], "decide before ordering") for note in dossier.plan.notes]
    rows += _of_policy(dossier.policy)
    rows += [("weak source", figure.text, figure.places, f"{figure.how}: confirm against the data sheet or the standard") for figure in weak_figures(dossier)]
    rows += _of_papers(dossier)
    order = {kind: place for place, kind in enumerate(("unknown", "waived", "plan", "assumed", "default", "weak source", "papers"))}
    rows.sort(key=lambda row: (order[row[0]], -len(row[2]), row[1]))
    about = (
        "What the answer rests on and nobody has confirmed. An unknown figure can break a link; an assumed one may.",
        "Figures read in print are not listed here; their sources stand in the library beside each figure.",
    )
    return Sheet("questions", "Open questions", about, _COLUMNS, tuple(_cells(*row) for row in rows))


def _cells(kind: str, question: str, places: list[str], to_do: str) -> tuple[Cell, ...]:
    named = listed(places[:_MOST_NAMED])
    more = len(places) - _MOST_NAMED
    return kind, question, (f"{named} and {more} more" if more > 0 else named) or None, len(places) or None, to_do


def _of_notes(dossier: Dossier) -> Iterator[tuple[str, str, list[str], str]]:
    """The notes of links; one about a run or a device is told once, with every run or device that it is about."""
    places: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for planned, fitted in dossier.served:
        subjects = [*planned.over, *(end.device.id for end in fitted.ends)]
        for note in planned.notes:
            for opening, (kind, to_do) in _NOTES.items():
                if note.startswith(opening):
                    text = note.removeprefix(opening)
                    subject = next((name for name in subjects if kind == "assumed" and text.startswith(f"{name} ")), None)
                    places[kind, text.removeprefix(f"{subject} ") if subject else text, to_do].add(subject or planned.id)
    for (kind, question, to_do), ids in places.items():
        yield kind, question, sorted(ids), to_do


def _of_policy(policy: Policy) -> Iterator[tuple[str, str, list[str], str]]:
    for field, sentence, source in _ALLOWANCES:
        if field not in policy.model_fields_set:
            yield "default", sentence.format(value=getattr(policy, field)), [], f"{source}; state {field} in the policy to decide it"
    if "attenuation" not in policy.model_fields_set:
        yield "default", f"attenuation of the table {policy.attenuation}", [], "the data sheet of the cable, or a measurement, is better"


def _of_papers(dossier: Dossier) -> Iterator[tuple[str, str, list[str], str]]:
    """What the papers add to the plan, and have from nobody."""
    runs = sorted(dossier.strands)
    if runs:
        yield "papers", "which strands are in use: taken to be those of the lowest numbers", runs, "trace and test before anything is unplugged"
        crossing = "follow transmit and receive on the strand sheet; swap the legs of one cord where they do not meet"
        yield "papers", "whether cords and panels cross each pair once", runs, crossing
    tubes = sorted(run.id for run in dossier.network.runs if run.fiber and run.id in dossier.strands and run.fiber.strands > strands_a_tube())
    if tubes:
        yield "papers", f"{strands_a_tube()} strands a tube (common practice, no source)", tubes, "read the print on the cable"
    joints = sorted({panel.id for _, fitted in dossier.served for panel in fitted.path.panels})
    if joints:
        yield "papers", "runs meet in one adapter at panels, without a cord between", joints, "count one connection more on a run that is joined by a cord"
    unmeasured = _cords_without_length(dossier)
    if unmeasured:
        yield "papers", "length of the cords", unmeasured, "measure from port to panel, with slack, before ordering"


def _cords_without_length(dossier: Dossier) -> list[str]:
    used: Iterable[Cord | None] = (end.cord for _, fitted in dossier.served for end in fitted.ends)
    return sorted({cord.part for cord in used if cord is not None and cord.length_m is None})
