"""Codes of many labels: each is the one that the library of codes makes, whichever way it came about."""

from __future__ import annotations

import re
from random import Random

import pytest
import segno

from optiselect.handover import codes
from optiselect.handover.codes import LONGEST_QR_BYTES, drawn_codes

_SMALL = "abcdefghijklmnopqrstuvwxyz0123456789-/. ~"
_CAPITAL = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-/. "


def modules(path: str, size: int) -> list[list[bool]]:
    """What a path makes dark, walked piece by piece."""
    dark = [[False] * size for _ in range(size)]
    x = y = 0
    for start, down, along, over in re.findall(r"M(\d+) (\d+)|h(\d+)|m(\d+) 0", path):
        if start:
            x, y = int(start), int(down)
        elif along:
            dark[y][x : x + int(along)] = [True] * int(along)
        x += int(along or over or 0)
    return dark


def _made(text: str) -> list[list[bool]]:
    return [[bool(module) for module in row] for row in segno.make(text, error="m", micro=False, boost_error=False, mask=3).matrix]


@pytest.mark.parametrize("characters", [_SMALL, _CAPITAL])
@pytest.mark.parametrize("length", [2, 5, 14, 15, 27])
def test_codes_of_many_texts_of_one_length_are_those_that_each_has_by_itself(characters: str, length: int) -> None:
    random = Random(length)
    texts = sorted({"".join(random.choices(characters, k=length)) for _ in range(16 * length + 20)})
    drawn = drawn_codes(texts)

    assert [modules(*drawn[text]) for text in texts[::7]] == [_made(text) for text in texts[::7]]


_BROAD = "\N{CJK UNIFIED IDEOGRAPH-6A4B}/7"


@pytest.mark.parametrize("text", ["core/1", "CORE/1", "CORE/12", "4711", "a/b~1", "k\N{LATIN SMALL LETTER A WITH DIAERESIS}/1", _BROAD])
def test_code_of_one_text_is_its_own(text: str) -> None:
    path, size = drawn_codes([text])[text]

    assert modules(path, size) == _made(text)


def test_few_codes_are_made_for_many_labels(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []
    monkeypatch.setattr(codes, "_made", lambda text, mode=None, make=codes._made: made.append(text) or make(text, mode))
    drawn_codes([f"closet-{place:03d}/{port:02d}" for place in range(100) for port in range(24)])

    assert len(made) <= 8 * len("closet-000/00") + 1


def test_a_path_goes_on_from_row_to_row_without_a_piece_that_draws_nothing() -> None:
    path, _ = drawn_codes(["core/1"])["core/1"]

    assert not re.search(r" 0(M|$)", path[4:])


def test_text_that_no_label_could_carry_has_no_code() -> None:
    assert drawn_codes(["x" * (LONGEST_QR_BYTES + 1)]) == {}
