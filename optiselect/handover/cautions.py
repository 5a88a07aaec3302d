"""The cautions page: what every handover says where work can hurt someone, and what this plan adds."""

from __future__ import annotations

from collections.abc import Container
from operator import itemgetter

from optiselect.handover.dossier import Dossier
from optiselect.handover.sheet import Column, Sheet
from optiselect.model.plan import Finding, Plan

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("laser light", "Invisible laser light: never look into a port, a plug or a fiber end, with or without optics."),
    ("laser light", "Treat every fiber as live until it is measured dark."),
    ("laser light", "Laser class per IEC 60825-1; the hazard of the installed system per IEC 60825-2."),
    ("glass", "Glass shards: collect every piece of cut fiber in a closed container; keep them out of skin and eyes."),
    ("place", "Work at height, on energized plant and near traffic under local rules, and by those licensed for it."),
    ("earth", "Lightning and earthing: the local code and licensed practice decide."),
    ("figures", "Figures marked 'from memory' or 'common practice': confirm them against the data sheet before ordering."),
)
"""What every handover prints, besides the cautions of the plan itself. Source of the laser ones: IEC 60825-1 and -2; makers' safety guides."""
SHORT = "Invisible laser light: never look into a port or a fiber end. Treat every fiber as live. Local codes and licensed practice decide."
"""The line at the foot of every paper that people carry to the ports."""
_COLUMNS = (Column("about", "about"), Column("caution", "caution"), Column("from", "says"))


def cautions_sheet(dossier: Dossier) -> Sheet:
    """All cautions: rules that a plan changed by hand breaks, those of links, those of the plan, then those of every handover."""
    rows = [(f"link {finding.link}", _do_not_build(finding), "the check of this plan") for finding in dossier.broken]
    rows += [("bill", caution, "the check of this plan") for caution in _of_bill(dossier)]
    rows += [(f"link {link}", caution, "this plan") for link, caution in sorted(dossier.link_cautions, key=itemgetter(0))]
    rows += [("plan", caution, "this plan") for caution in _own(dossier.plan)]
    rows += [(about, caution, "every handover") for about, caution in CAUTIONS]
    return Sheet("cautions", "Cautions", ("Read before anything is touched. Where local rules are stricter, they hold.",), _COLUMNS, tuple(rows))


def cautions_text(dossier: Dossier) -> str:
    """All cautions as text, one a line."""
    return "\n".join(f"- {caution}" for caution in all_cautions(dossier))


def all_cautions(dossier: Dossier, links: Container[str] | None = None) -> tuple[str, ...]:
    """All cautions, in the order of the cautions page; each once. `links`: of these links only, beside what holds for the whole plan."""
    broken = [f"{finding.link}: {_do_not_build(finding)}" for finding in dossier.broken if links is None or finding.link in links]
    of_links = [f"{link}: {caution}" for link, caution in dossier.link_cautions if links is None or link in links]
    return tuple(dict.fromkeys((*broken, *_of_bill(dossier), *of_links, *_own(dossier.plan), *(caution for _, caution in CAUTIONS))))


def _do_not_build(finding: Finding) -> str:
    return f"do not build this link: it breaks the rule {finding.rule}, so the plan was changed by hand: {finding.text}"


def _of_bill(dossier: Dossier) -> list[str]:
    return [f"do not order from this bill: {fault}, so the plan was changed by hand" for fault in dossier.faults_of_bill]


def _own(plan: Plan) -> list[str]:
    """The cautions of a plan that no caution of every handover opens like: those say the same, at more length."""
    general = {_opening(caution) for _, caution in CAUTIONS}
    return [caution for caution in plan.cautions if _opening(caution) not in general]


def _opening(caution: str) -> str:
    return " ".join(caution.split()[:2])
