"""Papers as the tables of a page. A text that is in ASCII states no direction: it runs from left to right."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from optiselect.handover.clean import clean
from optiselect.handover.sheet import Column, Sheet, shown
from optiselect.handover.tables import Cell

if TYPE_CHECKING:
    from markupsafe import Markup

_LONG = 160
"""Text of more characters than this gets a cell that scrolls."""
_UNBROKEN = 22
"""A word of more characters than this may be broken anywhere, so that a table keeps to its sheet."""
_PLAIN = re.compile(r"[\w .,:;/|()+-]*", re.ASCII)
"""Text that is clean and holds nothing to escape, as most is."""
_BREAKS = re.compile(r"[\s-]")


@dataclass(frozen=True)
class PageTable:
    """A paper as the template wants it: rows as HTML, each on a line."""

    name: str
    title: str
    about: tuple[str, ...]
    columns: tuple[Column, ...]
    rows: Markup
    totals: list[str]


def page_table(sheet: Sheet, pages: Mapping[str, str] | None = None) -> PageTable:
    """A paper for the page: columns in which nothing stands are left out, unless they are there to be filled in.

    Args:
        sheet: the paper.
        pages: where a cell leads, by its text, in columns that are called ``page...``.
    """
    from markupsafe import Markup

    used = [index for index, column in enumerate(sheet.columns) if column.kind == "entry" or any(row[index] is not None for row in sheet.rows)]
    columns = tuple(sheet.columns[index] for index in used)
    makers = [(index, _Cells(sheet.columns[index], first=index == 0, pages=pages or {})) for index in used]
    rows = ["".join([maker[row[index]] for index, maker in makers]) for row in sheet.rows]
    totals = [shown(sheet.totals.get(column.name), column) for column in columns] if sheet.totals else []
    body = Markup("".join([f"<tr>{row}</tr>\n" for row in rows]))  # every text is escaped below
    return PageTable(sheet.name, sheet.title, sheet.about, columns, body, ["Total", *totals[1:]] if totals else [])


class _Cells(dict[Cell, str]):
    """The cells of one column as HTML, each text as it is asked for; one that comes again is not written again."""

    def __init__(self, column: Column, *, first: bool, pages: Mapping[str, str]) -> None:
        from markupsafe import escape

        self.escaped: Callable[[str], str] = escape
        self.column, self.first, self.pages = column, first, pages if column.name.startswith("page") else {}
        self[None] = '<td class="entry"></td>' if column.kind == "entry" else '<th scope="row"></th>' if first else "<td></td>"

    def __missing__(self, cell: Cell) -> str:
        if isinstance(cell, str):
            self[cell] = self._text(cell)
            return self[cell]
        return f'<td class="n" data-v="{cell!r}">{shown(cell, self.column)}</td>'

    def _text(self, text: str) -> str:
        words = text if _PLAIN.fullmatch(text) else self.escaped(clean(text))
        if text in self.pages:
            return f'<td><a href="{self.escaped(self.pages[text])}">{words}</a></td>'
        way = "" if text.isascii() else ' dir="auto"'
        unbroken = ' class="unbroken"' if len(text) > _UNBROKEN and max(map(len, _BREAKS.split(text))) > _UNBROKEN else ""
        if self.first:
            return f'<th scope="row"{way}{unbroken}>{words}</th>'
        if len(text) > _LONG:
            return f'<td class="long"{way}><div tabindex="0">{words}</div></td>'
        return f"<td{unbroken}{way}>{words}</td>"
