"""All papers as one page that works without a network, and the labels as a sheet to print."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from optiselect.errors import MissingExtraError
from optiselect.handover.bill import bill
from optiselect.handover.cautions import SHORT, all_cautions
from optiselect.handover.clean import clean
from optiselect.handover.dossier import Dossier
from optiselect.handover.labels import LONGEST_QR_BYTES
from optiselect.handover.margins import margins_pages
from optiselect.handover.sheet import Column, Sheet, shown
from optiselect.handover.tables import Cell
from optiselect.handover.wording import objective_line, status_line, tally_text

if TYPE_CHECKING:
    from jinja2 import Environment

_LONG = 160
"""Text of more characters than this gets a cell that scrolls."""
_UNBROKEN = 22
"""A word of more characters than this may be broken anywhere, so that a table keeps to its sheet."""
_BREAKS = re.compile(r"[\s-]")
_DARK = re.compile(rb"\x01+")
_QR_MASK = 3
"""Every reader takes any of the eight masks; trying all of them for each label takes four times as long (measured)."""


@dataclass(frozen=True)
class _Paper:
    """A paper as the template wants it: cells as (kind, text, value)."""

    name: str
    title: str
    about: tuple[str, ...]
    columns: tuple[Column, ...]
    rows: list[list[tuple[str, str, str]]]
    totals: list[str]


def report_page(of: Dossier, sheets: Mapping[str, Sheet], site_map: str) -> str:
    """Every paper on one page of HTML that asks for nothing beside itself.

    Args:
        of: the plan and its documents.
        sheets: the papers, by name.
        site_map: the map, as `site_map_svg` draws it.

    Raises:
        MissingExtraError: when Jinja2 is not installed.
    """
    environment = _environment()
    from markupsafe import Markup

    script, style = _static("page.js"), _static("page.css")
    plan = of.plan
    refusals = [(entry.id, entry.kind, entry.text or tally_text(entry)) for entry in plan.unserved]
    return environment.get_template(
        "report.html.j2"
    ).render(
        title=of.title,
        status=status_line(plan),
        security=f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src '{_digest(script)}'",
        style=Markup(style),  # ours, without data
        script=Markup(script),  # likewise
        map=Markup(site_map),  # drawn by this library, every text escaped there
        margins=[Markup(picture) for picture in margins_pages(plan, of.network, of.catalog, of.bars)],  # likewise
        cautions=all_cautions(of),
        facts=_facts(of, sheets),
        refusals=refusals,
        papers=[_paper(sheet) for sheet in sheets.values()],
        short=SHORT,
        hashes={name: value[:12] for name, value in plan.hashes.items()},
    )


def labels_page(of: Dossier, labels: Sheet) -> str:
    """The labels as a sheet to print, each with its QR code.

    Raises:
        MissingExtraError: when Jinja2 or segno is not installed.
    """
    environment = _environment()
    from markupsafe import Markup

    drawn = [_label(record) for record in labels.records()]
    return environment.get_template("labels.html.j2").render(
        title=of.title,
        security="default-src 'none'; style-src 'unsafe-inline'; img-src data:",
        style=Markup(_static("labels.css")),
        labels=drawn,
        short=SHORT,
    )


def _environment() -> Environment:
    try:
        import jinja2
    except ImportError:
        raise MissingExtraError("report") from None
    return jinja2.Environment(loader=jinja2.FunctionLoader(_static), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, finalize=_finally)


def _finally(value: Any) -> Any:
    """Every text that a template prints is clean; what is marked as ours stays."""
    return clean(value) if type(value) is str else value


@cache
def _static(name: str) -> str:
    return files("optiselect.handover").joinpath("pages", name).read_text(encoding="utf-8")


def _digest(script: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _facts(of: Dossier, sheets: Mapping[str, Sheet]) -> list[tuple[str, str]]:
    plan = of.plan
    order = bill(plan, of.catalog)
    known = [(way.margin_db, link.id) for link in plan.links for way in link.directions if way.margin_db is not None]
    facts = [("Links", f"{len(plan.links)} served, {len(plan.unserved)} not served")]
    facts.append(("In order of weight", "; ".join(objective_line(value, plan.currency) for value in plan.objective)))
    facts.append(("To order", f"{sum(line.order for line in order.lines)} units, {order.total:,.2f} {plan.currency}".rstrip()))
    if order.longest_lead_time_days is not None:
        facts.append(("Slowest part", f"{order.longest_lead_time_days} days"))
    if known:
        least, link = min(known)
        facts.append(("Least margin", f"{least:.2f} dB, {link}"))
    facts.append(("Open questions", f"{len(sheets['questions'].rows)}, of which {sheets['questions'].column('kind').count('unknown')} unknown figures"))
    return facts


def _paper(sheet: Sheet) -> _Paper:
    """A paper for the page: columns in which nothing stands are left out, unless they are there to be filled in."""
    used = [index for index, column in enumerate(sheet.columns) if column.kind == "entry" or any(row[index] is not None for row in sheet.rows)]
    columns = tuple(sheet.columns[index] for index in used)
    rows = [[_cell(row[index], sheet.columns[index], first=index == 0) for index in used] for row in sheet.rows]
    totals = [shown(sheet.totals.get(column.name), column) for column in columns] if sheet.totals else []
    return _Paper(sheet.name, sheet.title, sheet.about, columns, rows, ["Total", *totals[1:]] if totals else [])


def _cell(cell: Cell, column: Column, *, first: bool) -> tuple[str, str, str]:
    if column.kind == "entry":
        return "e", "", ""
    text = shown(cell, column)
    if isinstance(cell, int | float):
        return "n", text, repr(cell)
    unbroken = len(text) > _UNBROKEN and max(map(len, _BREAKS.split(text))) > _UNBROKEN
    if first:
        return ("H" if unbroken else "h"), text, ""
    return ("l" if len(text) > _LONG else "u" if unbroken else "t"), text, ""


def _label(record: Mapping[str, Cell]) -> dict[str, Any]:
    near = clean(f"{record['device']}/{record['port']}")
    path, size = _code(near)
    return {"near": near, "link": record["link"], "far": record["far_end"], "cable": record["cable"], "copies": record["copies"], "path": path, "size": size}


def _code(text: str) -> tuple[str, int]:
    """A QR code as the outline of its dark modules, and its width in modules, quiet zone included; nothing for text that is too long.

    Source: ISO/IEC 18004 (error correction M; quiet zone of 4 modules).
    """
    if len(text.encode("utf-8", errors="backslashreplace")) > LONGEST_QR_BYTES:
        return "", 0
    try:
        import segno
    except ImportError:
        raise MissingExtraError("report") from None
    code = segno.make(text, error="m", micro=False, boost_error=False, mask=_QR_MASK)
    quiet = 4
    pieces = [
        f"M{run.start() + quiet} {y}h{run.end() - run.start()}v1h{run.start() - run.end()}z"
        for y, row in enumerate(code.matrix, start=quiet)
        for run in _DARK.finditer(row)
    ]
    return "".join(pieces), len(code.matrix) + 2 * quiet
