"""The papers of a plan, written into a folder: for the order, for the installers, and for whoever asks why."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from optiselect.errors import OptiselectError
from optiselect.formats.writing import write_whole
from optiselect.handover import frames
from optiselect.handover.bill import bill
from optiselect.handover.margins import margins_svg
from optiselect.handover.tables import csv_text
from optiselect.handover.wording import plan_text, unserved_text
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan

CAUTIONS: tuple[str, ...] = (
    "Invisible laser light: never look into a port, a plug or a fiber end, with or without optics.",
    "Treat every fiber as live until it is measured dark.",
    "Laser class per IEC 60825-1; the hazard of the installed system per IEC 60825-2.",
    "Glass shards: collect every piece of cut fiber in a closed container.",
    "Work at height, on energized plant and near traffic under local rules.",
    "Lightning and earthing: local code and licensed practice decide.",
    "Figures marked 'from memory' or 'common practice': confirm them against the data sheet before ordering.",
)
"""What every handover prints, besides the cautions of the plan itself."""


def cautions_text(plan: Plan) -> str:
    """All cautions, those of the plan first, one a line."""
    return "\n".join(f"- {caution}" for caution in dict.fromkeys((*plan.cautions, *CAUTIONS)))


def write_papers(plan: Plan, network: Network, catalog: Catalog, folder: str | Path) -> tuple[Path, ...]:
    """Write the papers of a plan into a folder, which is made when it is not there; each file is replaced as a whole or not at all.

    ``plan.json`` (the whole plan), ``plan.txt`` (the same to read), ``bill.csv``, ``links.csv``, ``ends.csv`` (what to plug in where),
    ``directions.csv`` (the light), ``margins.svg`` (the same as a picture), ``unserved.txt`` and ``cautions.txt``.

    Args:
        plan: a plan of this network and catalog.
        network: names the site in the papers, and says which optics are fixed in ports.
        catalog: where descriptions, suppliers, lead times and the levels of receivers come from.
        folder: where to write; the file names are fixed, so that no text of a document can lead elsewhere.

    Returns:
        The files, in the order above.

    Raises:
        OptiselectError: when the folder or a file cannot be written.
    """
    title = network.name or plan.network
    papers: dict[str, Callable[[], str]] = {
        "plan.txt": lambda: plan_text(plan, catalog) + "\n",
        "bill.csv": lambda: bill(plan, catalog).csv(),
        "links.csv": lambda: _table(plan, "links"),
        "ends.csv": lambda: _table(plan, "ends"),
        "directions.csv": lambda: _table(plan, "directions"),
        "margins.svg": lambda: margins_svg(plan, network, catalog),
        "unserved.txt": lambda: f"{title}: links that are not served\n\n{unserved_text(plan)}\n",
        "cautions.txt": lambda: f"{title}: cautions\n\n{cautions_text(plan)}\n",
    }
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
        plan.save(target / "plan.json")
        for name, text in papers.items():
            write_whole(target / name, text().encode("utf-8"))
    except OSError as error:
        raise OptiselectError(f"{target}: the papers cannot be written there: {error.strerror or error}") from error
    return tuple(target / name for name in ("plan.json", *papers))


def _table(plan: Plan, name: str) -> str:
    return csv_text(frames.columns(name), frames.rows(plan, name))
