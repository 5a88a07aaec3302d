"""The acceptance sheet: what each run may lose at each test wavelength, with a place for what it does lose."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell
from optiselect.model.network import Fiber, Run
from optiselect.model.policy import Policy
from optiselect.model.terms import mode_of
from optiselect.optics.acceptance import END_CONNECTIONS_SEEN, acceptance_limit_db
from optiselect.optics.attenuation import attenuation_db_km, figure_serves, figures_serving
from optiselect.optics.budget import run_loss_pico
from optiselect.optics.decibels import milli, to_millidecibel
from optiselect.standards.acceptance import METHODS, Method, editions_citation, method_name
from optiselect.standards.fiber import Edition, end_connection_db, test_wavelengths_nm

DEFAULT_EDITION: Edition = "iso-14763-3"
"""Whose allowance an end connection to a reference-grade cord gets: the least of those that compete, so the safer one."""
ENTRIES = ("method", "measured_loss_db", "measured_loss_back_db", "measured_by", "measured_on")
_COLUMNS = (
    Column("run", "run"),
    Column("end_a", "end A"),
    Column("end_b", "end B"),
    Column("grade", "grade"),
    Column("length_m", "length, m", "figure", 1),
    Column("inner_connections", "connections between the ends", "count"),
    Column("splices", "splices", "count"),
    Column("wavelength_nm", "wavelength, nm", "count"),
    *(Column(f"cable_limit_{method.replace('-', '_')}_db", f"cable limit, {method}, dB", "figure") for method in METHODS),
    *(Column(f"channel_limit_{method.replace('-', '_')}_db", f"channel limit, {method}, dB", "figure") for method in METHODS),
    Column("channel_limit_of", "channel limit set by link"),
    Column("governs", "which limit governs, one-cord"),
    Column("known_loss_db", "loss stated before, dB", "figure"),
    Column("method", "method used", "entry"),
    Column("measured_loss_db", "measured A to B, dB", "entry"),
    Column("measured_loss_back_db", "measured B to A, dB", "entry"),
    Column("measured_by", "measured by", "entry"),
    Column("measured_on", "date", "entry"),
)


@dataclass(frozen=True)
class Need:
    """What one link can bear to lose on one run, both end connections counted."""

    loss_db: float
    link: str


def acceptance_sheet(dossier: Dossier, edition: Edition = DEFAULT_EDITION) -> Sheet:
    """Every run of fiber at every test wavelength of its mode.

    Args:
        dossier: the plan and its documents.
        edition: whose allowance an end connection gets.

    Raises:
        UnknownNameError: when the edition is not one of those known.

    Source: connections x allowance + splices x allowance + km x attenuation (TIA-568.3, ISO/IEC 14763-3); methods: IEC 61280-4-1
    and -4-2, TIA-526-14 and -7.
    """
    needs = _needs(dossier)
    rows = tuple(
        _row(dossier, run, run.fiber, nm, needs.get((run.id, nm)), edition)
        for run in sorted(dossier.network.runs, key=lambda run: run.id)
        if run.fiber
        for nm in test_wavelengths_nm(mode_of(run.fiber.grade))
    )
    return Sheet("limits", "Acceptance limits", _about(dossier, edition), _COLUMNS, rows)


def _about(dossier: Dossier, edition: Edition) -> tuple[str, ...]:
    policy = dossier.policy
    modes = sorted({mode_of(run.fiber.grade) for run in dossier.network.runs if run.fiber})
    table = policy.attenuation if isinstance(policy.attenuation, str) else "the policy's own figures"
    ends = ", ".join(f"{end_connection_db(edition, mode):g} dB {mode}" for mode in modes)
    return (
        *(f"{method}, {mode}: {method_name(method, mode)}. Sees {_seen(method)}." for mode in modes for method in METHODS),
        f"The older names were read in print; the current editions are {editions_citation().how}: confirm them.",
        f"Cable limit: end connections to reference-grade cords {ends or '-'} each ({edition}), connections between the ends "
        f"{policy.connection_loss_db:g} dB, splices {policy.splice_loss_db:g} dB, attenuation by {table} or as the run states it. "
        "Tests with cords that are not reference grade need other limits.",
        "Channel limit: what this run may lose before the named link has no margin left, the other runs of its path at their greatest computed loss "
        f"and the policy's repair allowance kept. For two and three cords {policy.connection_loss_db:g} dB come off for each end connection not seen.",
        "The smaller limit governs what the link needs; the cable limit governs what the cable installer owes.",
        "Fill in the greatest reading of the strands that are used, in dB with a point, and the method (one-cord, two-cord, three-cord). "
        "Reading it back replaces the computed loss of the run and plans again.",
        "Invisible laser light: never look into a fiber end. Inspect with a camera only, or with the far end dark and locked out.",
    )


def _seen(method: Method) -> str:
    seen = END_CONNECTIONS_SEEN[method]
    return {2: "both end connections", 1: "one end connection", 0: "neither end connection"}[seen]


def _row(dossier: Dossier, run: Run, fiber: Fiber, nm: float, need: Need | None, edition: Edition) -> tuple[Cell, ...]:
    inner = inner_connections(fiber)
    cable = [_cable_limit(fiber, nm, method, inner, edition, dossier.policy) for method in METHODS]
    channel = [_seen_of(need, method, dossier.policy) for method in METHODS]
    governs = "cable" if channel[0] is None or cable[0] <= channel[0] else "channel"
    stated = figures_serving(fiber.measured_loss_db, fiber.grade, (nm, nm)) if fiber.measured_loss_db else []
    return (
        *(run.id, *run.ends, fiber.grade, fiber.length_m, inner, fiber.splices, int(nm)),
        *cable,
        *channel,
        *(need.link if need else None, governs, max(stated, default=None)),
        *((None,) * len(ENTRIES)),
    )


def inner_connections(fiber: Fiber) -> int:
    """Mated pairs of a run between its two ends: what it states, less one at either end; none where it states nothing."""
    return max(0, (fiber.connections or 0) - 2)


def _cable_limit(fiber: Fiber, nm: float, method: Method, inner: int, edition: Edition, policy: Policy) -> float:
    """The cable limit in dB."""
    own = figures_serving(fiber.attenuation_db_km, fiber.grade, (nm, nm)) if fiber.attenuation_db_km else []
    table = attenuation_db_km(fiber.grade, (nm, nm), policy.attenuation)
    assert table is not None  # every table has figures of every grade at the wavelengths at which it is tested
    return acceptance_limit_db(
        fiber.length_m,
        max(own) if own else table[1],
        method=method,
        inner_connections=inner,
        splices=fiber.splices,
        connection_loss_db=policy.connection_loss_db,
        end_connection_loss_db=end_connection_db(edition, mode_of(fiber.grade)),
        splice_loss_db=policy.splice_loss_db,
    )


def _seen_of(need: Need | None, method: Method, policy: Policy) -> float | None:
    """What a reading by a method may be at most, so that the link is served."""
    if need is None:
        return None
    unseen = END_CONNECTIONS_SEEN["one-cord"] - END_CONNECTIONS_SEEN[method]
    return (milli(need.loss_db) - unseen * milli(policy.connection_loss_db)) / 1000


def _needs(dossier: Dossier) -> dict[tuple[str, float], Need]:
    """By run and test wavelength, the link that can bear the least loss there."""
    needs: dict[tuple[str, float], Need] = {}
    for key, need in _each_need(dossier):
        if key not in needs or (need.loss_db, need.link) < (needs[key].loss_db, needs[key].link):
            needs[key] = need
    return needs


def _each_need(dossier: Dossier) -> Iterator[tuple[tuple[str, float], Need]]:
    for planned, fitted in dossier.served:
        for way in planned.directions:
            if way.margin_db is None or way.wavelength_nm is None:
                continue
            for index, run in enumerate(fitted.path.runs):
                connections = fitted.path.connections_of(index)
                loss = run_loss_pico(run.fiber, way.wavelength_nm, connections, dossier.policy) if run.fiber is not None else None
                if run.fiber is None or loss is None:
                    continue
                bears = (milli(way.margin_db) + to_millidecibel(loss[1])) / 1000
                for nm in test_wavelengths_nm(mode_of(run.fiber.grade)):
                    if figure_serves(run.fiber.grade, nm, way.wavelength_nm):
                        yield (run.id, nm), Need(bears, planned.id)
