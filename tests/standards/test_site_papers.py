"""Colors of strands and names of reference methods beside the published ones (tests/published/figures.yaml)."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from optiselect.optics.acceptance import END_CONNECTIONS_SEEN
from optiselect.standards.acceptance import METHODS, Method, editions_citation, method_name
from optiselect.standards.colors import color, color_citation, strands_a_tube
from optiselect.standards.sources import MEMORY

_EXTRACT = {row["id"]: row for row in yaml.safe_load((Path(__file__).parent.parent / "published" / "figures.yaml").read_text(encoding="utf-8"))}


def test_colors_are_those_published() -> None:
    assert [color(number) for number in range(1, 13)] == _EXTRACT["color.strand"]["value"]["order"]
    assert color_citation().address == _EXTRACT["color.strand"]["provenance"]


def test_a_tube_holds_as_many_strands_as_there_are_colors() -> None:
    assert strands_a_tube() == len(_EXTRACT["color.strand"]["value"]["order"])


@pytest.mark.parametrize(("method", "row"), list(zip(METHODS, _EXTRACT["test.ref.names"]["value"], strict=True)), ids=METHODS)
def test_methods_carry_their_published_names_and_see_the_published_connections(method: Method, row: dict[str, object]) -> None:
    assert END_CONNECTIONS_SEEN[method] == row["end_connections_included"]
    for mode, keys in (("multimode", ("tia_526_14", "iec_61280_4_1")), ("single-mode", ("tia_526_7", "iec_61280_4_2"))):
        named = method_name(method, mode)  # type: ignore[arg-type]  # one of the two modes

        assert all(f"{str(row[key])[0].lower()}{str(row[key])[1:]}" in named for key in keys)


def test_current_editions_are_marked_as_remembered() -> None:
    assert editions_citation().how == MEMORY
