"""Handing over: every paper of a plan, in every form, into one folder."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from optiselect.errors import MissingExtraError, OptiselectError
from optiselect.formats.writing import write_whole
from optiselect.handover.cautions import cautions_text
from optiselect.handover.dossier import Dossier, dossier
from optiselect.handover.frames import plan_sheets
from optiselect.handover.label_page import labels_page
from optiselect.handover.margins import margins_svg
from optiselect.handover.papers import PAPERS
from optiselect.handover.places import FOLDER, PlacePage, place_pages
from optiselect.handover.report import place_page, report_page
from optiselect.handover.sheet import Sheet
from optiselect.handover.site_map import site_map_svg
from optiselect.handover.wording import plan_text, unserved_text
from optiselect.handover.workbook import workbook
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy

FORMAT = "optiselect-handover/1"
TABLES = "tables"
"""The folder of the CSV files."""
_PAGE = re.compile(r"[0-9]{3,}\.html", re.ASCII)


@dataclass(frozen=True)
class HandedOver:
    """What was written.

    Attributes:
        files: every file, in the order in which it is read.
        left_out: what was not written, and which extra it needs.
    """

    files: tuple[Path, ...]
    left_out: tuple[str, ...]


def hand_over(plan: Plan, folder: str | Path, network: Network, catalog: Catalog, policy: Policy | None = None) -> HandedOver:
    """Write all papers of a plan into a folder, which is made when it is not there; each file is replaced as a whole or not at all.

    ``handover.html`` (every paper on one page; of an estate of more than some 700 links what is about all of it, and the rest by place in
    a folder ``pages``, from which pages of an earlier plan are removed), ``labels.html`` (to print), ``handover.xlsx``, ``handover.json``, ``map.svg``,
    ``margins.svg``, ``plan.json`` (the whole plan), ``plan.txt``, ``unserved.txt``, ``cautions.txt``, and a folder ``tables`` with
    a CSV for each paper and each table of the plan.

    Args:
        plan: the plan.
        folder: where to write; file names are fixed, so that no text of a document can lead elsewhere.
        network: that the plan was made from. catalog: likewise. policy: likewise; omitted = all defaults.

    Returns:
        The files, and what was left out because an extra is not installed.

    Raises:
        MismatchError: when a document is not the one that the plan was made from.
        OptiselectError: when the folder or a file cannot be written.
    """
    of = dossier(plan, network, catalog, policy)
    sheets = {name: draw(of) for name, draw in PAPERS.items()}
    tables = plan_sheets(plan)
    pages = place_pages(of, sheets)
    pictures = {"map.svg": site_map_svg(of), "margins.svg": margins_svg(plan, network, catalog, of.bars)}
    made: dict[str, Callable[[], bytes]] = {
        "handover.html": lambda: _text(report_page(of, sheets, pictures["map.svg"], pages)),
        **{f"{FOLDER}/{page.file}": partial(_place, of, pages, page.number) for page in pages},
        "labels.html": lambda: _text(labels_page(of, sheets["labels"])),
        "handover.xlsx": lambda: workbook((*sheets.values(), *tables), of.title),
        "handover.json": lambda: _text(_json(of, (*sheets.values(), *tables))),
        **{name: partial(_text, drawn) for name, drawn in pictures.items()},
        "plan.txt": lambda: _text(plan_text(plan, catalog) + "\n"),
        "unserved.txt": lambda: _text(f"{of.title}: links that are not served\n\n{unserved_text(plan)}\n"),
        "cautions.txt": lambda: _text(f"{of.title}: cautions\n\n{cautions_text(of)}\n"),
        **{f"{TABLES}/{sheet.name}.csv": partial(_csv, sheet) for sheet in (*sheets.values(), *tables)},
    }
    target, left_out, written = Path(folder), [], []
    try:
        for folder_of in (TABLES, *((FOLDER,) if pages else ())):
            (target / folder_of).mkdir(parents=True, exist_ok=True)
        for name, content in made.items():
            try:
                write_whole(target / name, content())
                written.append(target / name)
            except MissingExtraError as missing:
                if not name.startswith(FOLDER):  # they belong to handover.html, which is told of
                    left_out.append(f"{name}: {missing}")
        if target / "handover.html" in written:
            _remove_older_pages(target / FOLDER, {page.file for page in pages})
        plan.save(target / "plan.json")
    except OSError as error:
        raise OptiselectError(f"{target}: the papers cannot be written there: {error.strerror or error}") from error
    return HandedOver((*written, target / "plan.json"), tuple(left_out))


def _json(of: Dossier, sheets: tuple[Sheet, ...]) -> str:
    papers = {sheet.name: sheet.document() for sheet in sheets}
    whole = {"format": FORMAT, "network": of.title, "made_from": dict(of.plan.hashes), "currency": of.plan.currency, "papers": papers}
    return json.dumps(whole, ensure_ascii=True, allow_nan=False, separators=(",", ":")) + "\n"


def _remove_older_pages(folder: Path, written: set[str]) -> None:
    """Remove the pages of an earlier plan, which somebody could still follow; nothing but files that are named as pages are."""
    for path in sorted(folder.glob("*.html")):
        if _PAGE.fullmatch(path.name) and path.name not in written:
            path.unlink()


def _place(of: Dossier, pages: Sequence[PlacePage], number: int) -> bytes:
    return _text(place_page(of, pages, number))


def _csv(sheet: Sheet) -> bytes:
    return _text(sheet.csv())


def _text(text: str) -> bytes:
    return text.encode("utf-8", errors="backslashreplace")
