"""How much a file may hold before it is read any further, how reading is broken off, and by what a file that we wrote shows that it is whole."""

from __future__ import annotations

MAX_BYTES = 64 * 1024 * 1024
"""Of a file, and of what a workbook unpacks to."""
MAX_DEPTH = 32
MAX_VALUES = 2_000_000
"""Values or cells in a file: some forty thousand links; beyond that memory, not the reader, sets the limit."""
LONGEST_PATH = 120
"""Characters of a document path below which no step is added: under a key of a megabyte, a million values would have a terabyte of paths."""

WHOLE_YAML = '# The last line of this file is "...": where it is missing, the file was cut off.'
"""The first line of a YAML file that we wrote. Files without it are read as they are."""
LAST_ROW = "last_row"
"""The last column of a CSV file that we wrote: the last row has "yes" in it. Files without this column are read as they are."""
TABLES = "tables"
"""The last column of single values in a folder that we wrote: the lists that it holds, each a file of its own."""

Place = tuple[int, int]
"""Line and column, both from 1."""


class Refused(Exception):
    """A file that is not read any further, and why; the one who opened it adds the file's name."""

    def __init__(self, message: str, place: Place | None = None, path: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.place = place
        self.path = path


def below(path: str, step: str) -> str:
    """The document path of what stands in a list or mapping; that of the list or mapping itself where it is long already."""
    return path + step if len(path) < LONGEST_PATH else path


def check_size(text: str, marks: str) -> None:
    """Refuse a text that holds too many values before anything is built from it; every value but the first follows one of the marks.

    Raises:
        Refused: when there are more than `MAX_VALUES` marks.
    """
    if len(text) > MAX_VALUES and sum(map(text.count, marks)) > MAX_VALUES:
        raise Refused(f"the file holds more than {MAX_VALUES} values")
