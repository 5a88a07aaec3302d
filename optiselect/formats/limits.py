"""How much a file may hold before it is read any further, and how reading is broken off."""

from __future__ import annotations

MAX_BYTES = 64 * 1024 * 1024
"""Of a file, and of what a workbook unpacks to."""
MAX_DEPTH = 32
MAX_VALUES = 2_000_000
"""Values or cells in a file: some forty thousand links; beyond that memory, not the reader, sets the limit."""

Place = tuple[int, int]
"""Line and column, both from 1."""


class Refused(Exception):
    """A file that is not read any further, and why; the one who opened it adds the file's name."""

    def __init__(self, message: str, place: Place | None = None, path: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.place = place
        self.path = path


def check_size(text: str, marks: str) -> None:
    """Refuse a text that holds too many values before anything is built from it; every value but the first follows one of the marks.

    Raises:
        Refused: when there are more than `MAX_VALUES` marks.
    """
    if len(text) > MAX_VALUES and sum(map(text.count, marks)) > MAX_VALUES:
        raise Refused(f"the file holds more than {MAX_VALUES} values")
