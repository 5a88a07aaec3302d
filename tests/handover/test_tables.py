"""CSV that a spreadsheet cannot be made to run, and text that lines up."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.handover.tables import aligned_text, csv_text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "\nx", "＝1+1"])
def test_text_that_a_spreadsheet_would_run_is_put_behind_an_apostrophe(text: str) -> None:
    """CWE-1236, improper neutralization of formula elements in a CSV file."""
    read = list(csv.reader(io.StringIO(csv_text(["note"], [[text]]), newline="")))

    assert read[1] == [f"'{text}"]


def test_a_negative_number_stays_a_number() -> None:
    assert csv_text(["rx_dbm"], [[-10.66]]) == '"rx_dbm"\r\n-10.66\r\n'


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")), min_size=2, max_size=2), max_size=5))
def test_csv_gives_back_every_cell_but_for_the_guarding_apostrophe(rows: list[list[str]]) -> None:
    """Quotes, commas and line ends of any text survive the way out and in."""
    read = list(csv.reader(io.StringIO(csv_text(["a", "b"], rows), newline="")))[1:]

    assert [[cell.removeprefix("'") for cell in row] for row in read] == [[cell.removeprefix("'") for cell in row] for row in rows]


@given(st.lists(st.tuples(st.text(), st.integers()), max_size=6))
def test_aligned_text_has_one_line_for_each_row(rows: list[tuple[str, int]]) -> None:
    """No text, whatever line ends it holds, adds a line."""
    assert len(aligned_text(["name", "count"], rows).split("\n")) == len(rows) + 1
