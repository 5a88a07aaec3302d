"""Codes of labels, walked piece by piece: what they make dark is what the library of codes makes dark."""

from __future__ import annotations

import re

import pytest
import segno

from optiselect.handover.codes import LONGEST_QR_BYTES, drawn_code

_BROAD = "\N{CJK UNIFIED IDEOGRAPH-6A4B}/7"


def modules(path: str, size: int) -> list[list[bool]]:
    """What a path makes dark."""
    dark = [[False] * size for _ in range(size)]
    for x, y, along in re.findall(r"M(\d+) (\d+)h(\d+)", path):
        dark[int(y)][int(x) : int(x) + int(along)] = [True] * int(along)
    return dark


@pytest.mark.parametrize("text", ["core/1", "CORE/12", "4711", "a/b~1", "k\N{LATIN SMALL LETTER A WITH DIAERESIS}/1", _BROAD, "x" * LONGEST_QR_BYTES])
def test_path_of_a_code_makes_its_modules_dark(text: str) -> None:
    drawn = drawn_code(text)
    made = segno.make(text, error="m", micro=False, boost_error=False, mask=3).matrix
    assert drawn is not None
    assert modules(*drawn) == [[bool(module) for module in row] for row in made]


def test_text_that_no_label_could_carry_has_no_code() -> None:
    assert drawn_code("x" * (LONGEST_QR_BYTES + 1)) is None
