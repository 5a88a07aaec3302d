"""A paper as a plain table: what every form of a paper (CSV, JSON, workbook, page, frame) is made from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from optiselect.handover.tables import Cell, csv_text

if TYPE_CHECKING:
    import pandas

Kind = Literal["text", "count", "figure", "entry"]
_DTYPES: dict[Kind, str] = {"text": "string", "count": "Int64", "figure": "float64", "entry": "string"}


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes:
        name: in files and frames; a figure's unit is its suffix.
        heading: for people, unit included.
        kind: ``text``, ``count`` (whole numbers), ``figure``, or ``entry`` (left blank, to be filled in on site).
        decimals: with which a figure is shown; files carry it in full.
    """

    name: str
    heading: str
    kind: Kind = "text"
    decimals: int = 2

    @property
    def is_number(self) -> bool:
        """Whether its cells are numbers."""
        return self.kind in ("count", "figure")


@dataclass(frozen=True)
class Sheet:
    """One paper.

    Attributes:
        name: of the paper, as it is asked for and as its files are called.
        title: above the table.
        about: sentences that the reader needs before the table.
        columns: in order.
        rows: cells in the order of the columns; None is not known, or does not apply.
        totals: sums that stand below the table, by column name.
    """

    name: str
    title: str
    about: tuple[str, ...]
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    totals: dict[str, float] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """The names of its columns."""
        return tuple(column.name for column in self.columns)

    def records(self) -> list[dict[str, Cell]]:
        """The rows as mappings from column name to cell."""
        names = self.names
        return [dict(zip(names, row, strict=True)) for row in self.rows]

    def column(self, name: str) -> tuple[Cell, ...]:
        """All cells of one column.

        Raises:
            ValueError: when there is no such column.
        """
        index = self.names.index(name)
        return tuple(row[index] for row in self.rows)

    def csv(self) -> str:
        """The rows as CSV: numbers bare, text quoted and never a formula."""
        return csv_text(self.names, self.rows)

    def document(self) -> dict[str, Any]:
        """The paper as plain JSON values; cells stand in the order of the columns."""
        columns = [{"name": column.name, "heading": column.heading, "kind": column.kind} for column in self.columns]
        return {"title": self.title, "about": list(self.about), "columns": columns, "rows": list(self.rows), "totals": dict(self.totals)}

    def frame(self) -> pandas.DataFrame:
        """The rows as a tidy pandas frame; what is not known is missing (NA or NaN), never 0."""
        import pandas

        types = {column.name: _DTYPES[column.kind] for column in self.columns}
        return pandas.DataFrame(list(self.rows), columns=list(types)).astype(types)


def shown(figure: float | None, column: Column) -> str:
    """A number as it is printed: figures with the column's decimals, wavelengths without a comma, nothing for what is not known."""
    if figure is None:
        return ""
    if column.kind == "figure":
        return f"{figure:,.{column.decimals}f}"
    return str(figure) if column.name.endswith("_nm") else f"{figure:,}"


def listed(ids: Sequence[str]) -> str:
    """Several ids in one cell."""
    return ", ".join(ids)
