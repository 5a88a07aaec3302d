"""The pictures as matplotlib axes: the same figures as in the SVG."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from optiselect.errors import MissingExtraError
from optiselect.handover.dossier import Dossier
from optiselect.handover.margins import bars
from optiselect.handover.plots import plot_map, plot_margins
from tests.handover.pier import CATALOG, HASHES, NETWORK, plan


def test_black_part_of_each_bar_is_what_is_expected_to_arrive(terminal: Dossier) -> None:
    ax = plot_margins(terminal.plan, terminal.network, terminal.catalog)
    black = [patch for patch in ax.patches if patch.get_facecolor() == (0.0, 0.0, 0.0, 1.0)]
    expected = [(bar.low_dbm, bar.high_dbm) for bar in bars(terminal.plan, terminal.network, terminal.catalog)]

    assert [(round(patch.get_x(), 3), round(patch.get_x() + patch.get_width(), 3)) for patch in black] == expected  # type: ignore[attr-defined]


def test_bars_are_labeled_and_the_least_margin_is_on_top(terminal: Dossier) -> None:
    ax = plot_margins(terminal.plan, terminal.network, terminal.catalog)
    first = bars(terminal.plan, terminal.network, terminal.catalog)[0]

    assert ax.get_yticklabels()[0].get_text() == f"{first.name}: {first.ends[0]} to {first.ends[1]}"
    assert ax.get_yticks()[0] == 0
    assert ax.get_ylim()[0] > ax.get_ylim()[1]


def test_map_names_every_device_and_panel(terminal: Dossier) -> None:
    ax = plot_map(terminal.plan, terminal.network, terminal.catalog, terminal.policy)
    shown = {text.get_text() for text in ax.texts}

    assert {device.id for device in terminal.network.devices} | {panel.id for panel in terminal.network.panels} <= shown


def test_pictures_are_drawn_into_axes_that_are_given() -> None:
    ax = Figure().add_subplot()

    assert plot_margins(plan(), NETWORK, CATALOG, ax) is ax
    assert plot_map(plan(), NETWORK, CATALOG, ax=ax) is ax


def test_a_name_is_not_taken_for_mathematics(tmp_path: Path) -> None:
    ax = plot_margins(plan(links=({**plan().links[0].model_dump(by_alias=True), "id": "$\\frac{1}$" * 9},)), NETWORK, CATALOG)
    assert ax.figure is not None
    ax.figure.savefig(tmp_path / "margins.png")

    assert (tmp_path / "margins.png").stat().st_size > 1000


@pytest.mark.parametrize("draw", [plot_margins, plot_map])
def test_without_matplotlib_the_extra_is_named(draw: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)

    with pytest.raises(MissingExtraError, match=r"pip install 'optiselect\[plot\]'"):
        draw(plan(hashes=HASHES), NETWORK, CATALOG)


def test_axes_are_what_is_returned() -> None:
    assert isinstance(plot_margins(plan(), NETWORK, CATALOG), Axes)
