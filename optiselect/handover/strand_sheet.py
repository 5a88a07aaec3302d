"""The strand sheet: per run and strand its color, what it carries, and what it meets at either end."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet, listed
from optiselect.handover.strands import StrandUse
from optiselect.handover.tables import Cell
from optiselect.model.network import Fiber, Run
from optiselect.standards.colors import color, color_citation, strands_a_tube

ASSUMED = (
    "Strand numbers are assigned here, not read from the cable: strands in use already are taken to be those of the lowest numbers, "
    "reserved ones those of the highest. Trace and test before anything is unplugged.",
    f"Colors: {color_citation().document}, {color_citation().place}; {strands_a_tube()} strands a tube (common practice, no source). "
    "The print on the cable decides.",
    "Polarity: the strand marked transmit at one end is marked receive at the other. Where a cord does not cross, swap its legs at one end only.",
    "Strands of parallel optics (MPO): the first half is lit by the link's first end; the trunk's polarity decides their places in the plug.",
)
_COLUMNS = (
    Column("run", "run"),
    Column("end_a", "end A"),
    Column("end_b", "end B"),
    Column("strand", "strand", "count"),
    Column("to_strand", "to strand", "count"),
    Column("tube", "tube", "count"),
    Column("tube_color", "tube color"),
    Column("strand_color", "strand color"),
    Column("state", "state"),
    Column("link", "link"),
    Column("light", "light goes"),
    Column("wavelength_nm", "wavelength, nm"),
    Column("meets_at_a", "meets at end A"),
    Column("meets_at_b", "meets at end B"),
)


def strand_sheet(dossier: Dossier) -> Sheet:
    """Every strand of every run of fiber; strands that stay dark are together, as far as they are of one state and in one tube.

    Source of the colors: TIA-598-C (standards/colors.yaml).
    """
    rows = tuple(row for run in sorted(dossier.network.runs, key=lambda run: run.id) if run.fiber for row in _run_rows(dossier, run, run.fiber))
    return Sheet("strands", "Strand sheet", ASSUMED, _COLUMNS, rows)


def _run_rows(dossier: Dossier, run: Run, fiber: Fiber) -> Iterator[tuple[Cell, ...]]:
    uses = dossier.strands.get(run.id, {})
    reserved_from = fiber.strands - dossier.policy.reserve_strands + 1
    states = [_state(number, fiber, uses, reserved_from) for number in range(1, fiber.strands + 1)]
    for group in _grouped(states):
        first, last = group[0], group[-1]
        yield (run.id, *run.ends, first, last if last > first else None, *_colors(first, last, fiber.strands), states[first - 1], *_carries(uses.get(first)))


def _state(number: int, fiber: Fiber, uses: dict[int, StrandUse], reserved_from: int) -> str:
    if number in uses:
        return "this plan"
    if number <= fiber.strands_in_use:
        return "in use before"
    return "reserved" if number >= reserved_from else "free"


def _grouped(states: list[str]) -> Iterator[list[int]]:
    """Strand by strand those that this plan lights; of the others, those of one state in one tube together."""
    numbers = range(1, len(states) + 1)
    for (_, state), members in groupby(numbers, key=lambda number: ((number - 1) // strands_a_tube(), states[number - 1])):
        together = list(members)
        yield from ([number] for number in together) if state == "this plan" else [together]


def _colors(first: int, last: int, strands: int) -> tuple[Cell, Cell, Cell]:
    """Tube number and color, where there is more than one tube, and strand color."""
    a_tube = strands_a_tube()
    place = (first - 1) % a_tube + 1
    strand_color = color(place)
    if last > first:
        strand_color = f"{strand_color} to {color(place + last - first)}"
    if strands <= a_tube:
        return None, None, strand_color
    tube = (first - 1) // a_tube + 1
    return tube, color(tube) or "see the print on the cable", strand_color


def _carries(use: StrandUse | None) -> tuple[Cell, ...]:
    if use is None:
        return (None,) * 5
    arrow = "both ways" if use.both_ways else "A to B" if use.toward_end_b else "B to A"
    windows = [f"{window[0]:g}-{window[1]:g}" if window else "unknown" for window in use.wavelengths_nm]
    return use.link, arrow, listed(windows), *use.meets
