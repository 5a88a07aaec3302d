"""The spares list: how many on the shelf, to which level, and the arithmetic."""

from __future__ import annotations

from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell
from optiselect.model.catalog import Converter, Module
from optiselect.model.plan import PartLine
from optiselect.model.policy import Spares
from optiselect.optics.spares import expected_failures, probability_covered

_HOURS_A_DAY = 24
_COLUMNS = (
    Column("part", "part"),
    Column("kind", "kind"),
    Column("used", "in service", "count"),
    Column("fit", "failures per 1e9 h", "figure", 0),
    Column("exposure_h", "restock time, h", "figure", 0),
    Column("failures_expected", "failures expected", "figure", 4),
    Column("service_level", "level asked", "figure", 4),
    Column("spares", "spares", "count"),
    Column("covered", "level reached", "figure", 6),
    Column("covered_with_one_less", "level with one less", "figure", 6),
    Column("arithmetic", "arithmetic"),
)
_PLACES = 9


def spares_list(dossier: Dossier) -> Sheet:
    """Every module and converter of the plan with its spares.

    Source: exact Poisson distribution, P(failures <= k) >= level (MIL-HDBK-338; RAC START vol. 9 no. 1).
    """
    asked = dossier.policy.spares
    about = (
        "Units of a part are pooled over the whole network. m = units x failures per 1e9 h x hours; the spares are the least k with "
        "P(failures <= k) of at least the level, by the exact Poisson distribution (MIL-HDBK-338; RAC START vol. 9 no. 1).",
        f"Asked: a level of {asked.service_level:g} until restocked within {asked.restock_days:g} days."
        if asked
        else "The policy asks for no spares; state spares with a service level and restock days to have them planned.",
        "The two kinds of a single-strand pair (D and U) are spared separately: one does not replace the other.",
    )
    lines = [line for line in dossier.plan.parts if line.kind in ("module", "converter")]
    return Sheet("spares", "Spares list", about, _COLUMNS, tuple(_row(dossier, line, asked) for line in lines))


def _row(dossier: Dossier, line: PartLine, asked: Spares | None) -> tuple[Cell, ...]:
    item = dossier.items.get(line.part)
    fit = item.fit if isinstance(item, Module | Converter) else None
    head = (line.part, line.kind, line.used, fit)
    if asked is None:
        return (*head, None, None, None, line.spares, None, None, None)
    hours = asked.restock_days * _HOURS_A_DAY
    if fit is None:
        return (*head, hours, None, asked.service_level, line.spares, None, None, "no failure rate is stated: ask the supplier for it")
    mean = expected_failures(line.used, fit, hours)
    covered = round(probability_covered(line.spares, mean), _PLACES)
    less = round(probability_covered(line.spares - 1, mean), _PLACES) if line.spares else None
    words = f"m = {line.used} x {fit:g} x 1e-9 x {hours:g} h = {mean:.6f}; P(failures <= {line.spares}) = {covered:.6f}, asked {asked.service_level:g}"
    if less is not None:
        words += f"; with {line.spares - 1} only {less:.6f}"
    return (*head, hours, round(mean, _PLACES), asked.service_level, line.spares, covered, less, words)
