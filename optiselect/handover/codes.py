"""QR codes of labels, as paths."""

from __future__ import annotations

import re

from optiselect.errors import MissingExtraError

LONGEST_QR_BYTES = 400
"""Text longer than this is not put into a QR code: it would not be readable at the size of a label (common practice, no source)."""
QUIET = 4
"""Modules that stay light around a code (ISO/IEC 18004)."""
_MASK = 3
"""Every reader takes any of the eight masks; trying all of them for each label takes four times as long (measured)."""
_RUNS = re.compile(b"\x01+")
Drawn = tuple[str, int]
"""A code as a path, and how many modules it is wide."""


def drawn_code(text: str) -> Drawn | None:
    """The QR code of a text (error correction M); None of one that is too long.

    The path is to be stroked, one module wide: its lines run along the middle of the rows, the first of them at 0, from 0 on.

    Raises:
        MissingExtraError: when segno is not installed.
    """
    if len(text.encode("utf-8", errors="backslashreplace")) > LONGEST_QR_BYTES:
        return None
    try:
        import segno
    except ImportError:
        raise MissingExtraError("report") from None
    matrix = segno.make(text, error="m", micro=False, boost_error=False, mask=_MASK).matrix
    return "".join([f"M{run.start()} {y}h{run.end() - run.start()}" for y, row in enumerate(matrix) for run in _RUNS.finditer(row)]), len(matrix)
