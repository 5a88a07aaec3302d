"""The pictures of a plan as matplotlib axes, to be put beside others or drawn over; needs the extra ``plot``.

Colors, dashes and markers are those of the SVG pictures, so that both read the same in black and white.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiselect.errors import MissingExtraError
from optiselect.handover.dossier import dossier
from optiselect.handover.margins import bars
from optiselect.handover.site_courses import Course, Look, drawn_links
from optiselect.handover.site_layout import ROW, WIDTH, layout_of
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import PathPatch, Rectangle

_MARKERS = {"ample": "o", "fair": "D", "tight": "^", "unknown": "P", "copper": "s", "unserved": "X"}
_DASHES = {"ample": "-", "fair": "--", "tight": ":", "unknown": "-.", "copper": "-", "unserved": ":"}
_INCHES_A_BAR = 0.22


def plot_margins(plan: Plan, network: Network, catalog: Catalog, ax: Axes | None = None) -> Axes:
    """Every direction as a bar in dBm from sensitivity to overload, with what is expected to arrive in it, the least margin on top.

    Args:
        plan: a plan of this network and catalog.
        network: says which optics are fixed in ports. catalog: states what each receiver bears.
        ax: where to draw; omitted = a new figure.

    Raises:
        MissingExtraError: when matplotlib is not installed.
    """
    drawn = bars(plan, network, catalog)
    ax = ax if ax is not None else _new_axes(9, 1.6 + _INCHES_A_BAR * max(len(drawn), 4))
    for place, bar in enumerate(drawn):
        if bar.sensitivity_dbm is not None and bar.overload_dbm is not None:
            ax.barh(place, bar.overload_dbm - bar.sensitivity_dbm, left=bar.sensitivity_dbm, height=0.6, color="white", edgecolor="black", linewidth=0.8)
        if bar.sensitivity_dbm is not None and bar.needed_dbm is not None and bar.needed_dbm > bar.sensitivity_dbm:
            width = bar.needed_dbm - bar.sensitivity_dbm
            ax.barh(place, width, left=bar.sensitivity_dbm, height=0.6, color="white", edgecolor="black", linewidth=0.8, hatch="////")
        if bar.low_dbm is not None and bar.high_dbm is not None:
            ax.barh(place, bar.high_dbm - bar.low_dbm, left=bar.low_dbm, height=0.36, color="black")
    ax.set_yticks(range(len(drawn)), [_plain(f"{bar.name}: {bar.ends[0]} to {bar.ends[1]}") for bar in drawn], fontsize=7)
    ax.set_ylim(max(len(drawn), 1) - 0.4, -0.6)  # the first on top
    ax.set_xlabel("level at the receiver, dBm (hatched: link penalties; black: expected to arrive)")
    ax.set_title(_plain(f"Light at every receiver: {network.name or plan.network}"))
    ax.grid(axis="x", linewidth=0.4)
    ax.set_axisbelow(True)
    return ax


def plot_map(plan: Plan, network: Network, catalog: Catalog, policy: Policy | None = None, ax: Axes | None = None) -> Axes:
    """The site: buildings with devices and panels, and the links between them by margin, in color, dash and marker.

    Args:
        plan: the plan. network: that it was made from. catalog: likewise. policy: likewise; omitted = all defaults.
        ax: where to draw; omitted = a new figure.

    Raises:
        MissingExtraError: when matplotlib is not installed.
        MismatchError: when a document is not the one that the plan was made from.
    """
    of = dossier(plan, network, catalog, policy)
    layout = layout_of(network)
    ax = ax if ax is not None else _new_axes(max(6.0, layout.width / 90), max(3.0, layout.height / 90))
    told: set[str] = set()
    for link in drawn_links(of, layout):
        label = link.look.words if link.look.name not in told else None
        told.add(link.look.name)
        for course in link.courses:
            ax.add_patch(_curve(course, link.look))
        x, y = link.marker
        ax.plot([x], [y], _DASHES[link.look.name], marker=_MARKERS[link.look.name], color=link.look.color, markersize=4, label=label, zorder=2)
    for building in layout.buildings:
        ax.add_patch(_box((building.x, building.y), building.height))
        ax.text(building.x + 6, building.y + 12, _plain(building.title), fontsize=8, fontweight="bold", zorder=4)
    for name, spot in layout.spots.items():
        ax.text(spot.left + 10, spot.y + ROW / 5, _plain(name), fontsize=7, style="italic" if spot.is_panel else "normal", zorder=4)
    ax.set_xlim(-20, layout.width + 140)
    ax.set_ylim(layout.height + 20, -20)
    ax.set_axis_off()
    ax.set_title(_plain(f"Map of the site: {of.title}"))
    if told:
        ax.legend(loc="upper left", bbox_to_anchor=(0, 0), ncols=3, fontsize=7, frameon=False)
    return ax


def _curve(course: Course, look: Look) -> PathPatch:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    path = Path(course.curve, [Path.MOVETO, Path.CURVE4, Path.CURVE4, Path.CURVE4])
    return PathPatch(path, facecolor="none", edgecolor=look.color, linewidth=look.width * 0.8, linestyle=_DASHES[look.name], zorder=1)


def _box(corner: tuple[float, float], height: float) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle(corner, WIDTH, height, facecolor="white", edgecolor="black", zorder=3)


def _new_axes(width_in: float, height_in: float) -> Axes:
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise MissingExtraError("plot") from None
    figure = Figure(figsize=(width_in, height_in), layout="constrained")  # not of pyplot, so that no global state changes
    return figure.add_subplot()


def _plain(words: str, room: int = 60) -> str:
    """Text that matplotlib shows as it stands: no mathematics between dollar signs, on one line, not longer than there is room for."""
    shown = "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in words).replace("$", r"\$")
    return shown if len(shown) <= room else shown[: room - 1].rstrip("\\") + "\N{HORIZONTAL ELLIPSIS}"
