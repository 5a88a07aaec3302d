"""The site as a picture: buildings, devices, panels, runs, and on them the links, told apart by color and by shape.

SVG that needs nothing beside itself; every text is escaped. Colors are those of a palette made for color-blind readers
(Okabe and Ito, from memory); dash and marker say the same in black and white.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from optiselect.handover.dossier import Dossier
from optiselect.handover.drawing import INK, clean_line, cut, text
from optiselect.handover.margins import BANDS
from optiselect.handover.site_layout import HEAD, ROW, WIDTH, Layout, Spot, layout_of
from optiselect.model.plan import PlannedLink

_TOP, _LEFT, _EDGE = 118.0, 70.0, 70.0
_SPREAD = 3.2
"""Distance of two links on one run; many share `_WIDEST`."""
_WIDEST = 22.0
_MOST_NAMED = 40
"""Tight links are named on the map up to this many; beyond it names would cover each other."""


@dataclass(frozen=True)
class Look:
    """How a kind of link is drawn."""

    name: str
    words: str
    color: str
    dash: str
    width: float


LOOKS = (
    Look("ample", BANDS[2][1], "#0072b2", "", 1.6),
    Look("fair", BANDS[1][1], "#b36b00", "9 3", 2.0),
    Look("tight", BANDS[0][1], "#d55e00", "3 2", 2.6),
    Look("unknown", "A figure is unknown", "#7a5195", "1 3", 2.2),
    Look("copper", "Over copper", "#4d4d4d", "", 1.0),
    Look("unserved", "Not served", INK, "2 5", 1.4),
)
_LOOK = {look.name: look for look in LOOKS}
Point = tuple[float, float]


def look_of(link: PlannedLink) -> Look:
    """How a served link is drawn: by its least margin."""
    margins = [way.margin_db for way in link.directions]
    if not margins:
        return _LOOK["copper"]
    known = [margin for margin in margins if margin is not None]
    if len(known) < len(margins):
        return _LOOK["unknown"]
    least = min(known)
    return _LOOK["tight" if least < BANDS[0][0] else "fair" if least < BANDS[1][0] else "ample"]


def site_map_svg(dossier: Dossier) -> str:
    """The map of a plan as SVG."""
    return "".join(_picture(dossier, layout_of(dossier.network)))


def _picture(dossier: Dossier, layout: Layout) -> Iterator[str]:
    width, height = max(layout.width + _LEFT + _EDGE, 900.0), layout.height + _TOP + 24
    said = _summary(dossier)
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:.0f}" viewBox="0 0 {width:g} {height:.0f}" role="img" '
        f'aria-labelledby="map-title map-desc" font-family="DejaVu Sans, Verdana, sans-serif" font-size="10" fill="{INK}">\n'
        f'<title id="map-title">{clean_line(f"Map of the site: {dossier.title}")}</title>\n<desc id="map-desc">{clean_line(said)}</desc>\n'
        f'<rect width="{width:g}" height="{height:.0f}" fill="#fff"/>\n'
    )
    yield text(16, 26, cut(f"Map of the site: {dossier.title}", 90), size=17, weight="bold")
    yield text(16, 44, said)
    yield from _key()
    yield f'<g transform="translate({_LEFT:g} {_TOP:g})">\n'
    yield from _cables(dossier, layout)
    yield from _links(dossier, layout)
    yield from _boxes(layout)
    yield from _refused(dossier, layout)
    yield "</g>\n</svg>\n"


def _summary(dossier: Dossier) -> str:
    counts: dict[str, int] = defaultdict(int)
    for planned, _ in dossier.served:
        counts[look_of(planned).words] += 1
    counts["Not served"] = len(dossier.plan.unserved)
    told = [f"{look.words}: {counts[look.words]}" for look in LOOKS if counts[look.words]]
    return ". ".join(["Not to scale", *told]) + "."


def _key() -> Iterator[str]:
    for place, look in enumerate(LOOKS):
        x, y = 20.0 + 310 * (place % 3), 66.0 + 20 * (place // 3)
        yield _line([(x, y), (x + 46, y)], look)
        yield _marker(look, (x + 23, y))
        yield text(x + 54, y + 4, look.words)
    yield f'<rect x="950" y="59" width="24" height="12" fill="#fff" stroke="{INK}"/>' + text(980, 69, "device")
    yield f'<rect x="950" y="79" width="24" height="12" rx="6" fill="#ececec" stroke="{INK}" stroke-dasharray="3 2"/>' + text(980, 89, "panel")


def _course(layout: Layout, a: str, b: str) -> list[Point]:
    """From one place to another: straight between columns, around the side of a box within one."""
    one, two = layout.spots[a], layout.spots[b]
    if one.left == two.left:
        side = one.left + WIDTH
        out = side + min(112.0, 16 + abs(one.y - two.y) * 0.62)
        return [(side, one.y), (out, (one.y + two.y) / 2), (side, two.y)]
    return [(_side(one, two), one.y), (_side(two, one), two.y)]


def _side(here: Spot, there: Spot) -> float:
    return here.left + WIDTH if there.left > here.left else here.left


def _shifted(points: list[Point], by: float) -> list[Point]:
    """The course moved sidewise, so that links that share a run lie beside each other."""
    (x1, y1), (x2, y2) = points[0], points[-1]
    length = math.hypot(x2 - x1, y2 - y1) or 1.0
    dx, dy = (-(y2 - y1) / length * by, (x2 - x1) / length * by) if len(points) == 2 else (by, 0.0)
    return [(x + dx, y + dy) for x, y in points]


def _path(points: list[Point]) -> str:
    if len(points) == 2:
        (x1, y1), (x2, y2) = points
        bend = (x2 - x1) * 0.35
        return f"M{x1:.1f} {y1:.1f}C{x1 + bend:.1f} {y1:.1f} {x2 - bend:.1f} {y2:.1f} {x2:.1f} {y2:.1f}"
    (x1, y1), (x2, y2), (x3, y3) = points
    return f"M{x1:.1f} {y1:.1f}C{x2:.1f} {y1:.1f} {x2:.1f} {y3:.1f} {x3:.1f} {y3:.1f}"


def _middle(points: list[Point]) -> Point:
    if len(points) == 2:
        return (points[0][0] + points[1][0]) / 2, (points[0][1] + points[1][1]) / 2
    return points[0][0] + (points[1][0] - points[0][0]) * 0.75, points[1][1]


def _line(points: list[Point], look: Look) -> str:
    dash = f' stroke-dasharray="{look.dash}"' if look.dash else ""
    return f'<path d="{_path(points)}" fill="none" stroke="{look.color}" stroke-width="{look.width:g}"{dash}/>'


def _marker(look: Look, at: Point) -> str:
    """The shape that says the same as the color."""
    x, y = at
    drawn = f'fill="{look.color}" stroke="#fff" stroke-width="0.8"'
    if look.name == "ample":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.6" {drawn}/>'
    if look.name == "fair":
        return f'<path d="M{x:.1f} {y - 5:.1f}l5 5l-5 5l-5 -5z" {drawn}/>'
    if look.name == "tight":
        return f'<path d="M{x:.1f} {y - 6:.1f}l6 10.5h-12z" {drawn}/>'
    if look.name == "copper":
        return f'<rect x="{x - 2.6:.1f}" y="{y - 2.6:.1f}" width="5.2" height="5.2" {drawn}/>'
    if look.name == "unknown":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" {drawn}/><text x="{x:.1f}" y="{y + 3.4:.1f}" text-anchor="middle" fill="#fff">?</text>'
    return (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="#fff" stroke="{look.color}" stroke-width="1.4"/>'
        f'<path d="M{x - 3.5:.1f} {y - 3.5:.1f}l7 7m0 -7l-7 7" stroke="{look.color}" stroke-width="2.2" fill="none"/>'
    )


def _cables(dossier: Dossier, layout: Layout) -> Iterator[str]:
    """The runs, below everything else."""
    for run in sorted(dossier.network.runs, key=lambda run: run.id):
        kind = f"{run.fiber.grade}, {run.fiber.strands} strands" if run.fiber else run.copper.category if run.copper else ""
        routes = f", by {', '.join(run.routes)}" if run.routes else ""
        told = f"run {run.id}: {run.ends[0]} to {run.ends[1]}, {run.length_m:g} m, {kind}{routes}"
        d = _path(_course(layout, *run.ends))
        yield f'<g><title>{clean_line(told)}</title><path d="{d}" fill="none" stroke="#d9d9d9" stroke-width="7" stroke-linecap="round"/></g>\n'


def _links(dossier: Dossier, layout: Layout) -> Iterator[str]:
    """The links, along their runs; on one run beside each other, the marker on the longest piece."""
    lanes: dict[tuple[str, str], list[str]] = defaultdict(list)
    tight = sum(look_of(planned).name in ("tight", "unknown") for planned, _ in dossier.served)
    for planned, fitted in dossier.served:
        for run in fitted.path.runs:
            lanes[_pair(run.ends)].append(planned.id)
    for planned, fitted in dossier.served:
        look = look_of(planned)
        courses = []
        for run in fitted.path.runs:
            beside = lanes[_pair(run.ends)]
            step = min(_SPREAD, _WIDEST / len(beside))
            courses.append(_shifted(_course(layout, *_pair(run.ends)), (beside.index(planned.id) - (len(beside) - 1) / 2) * step))
        longest = max(courses, key=lambda course: math.dist(course[0], course[-1]))
        margins = [way.margin_db for way in planned.directions if way.margin_db is not None]
        worth = f", least margin {min(margins):.2f} dB" if margins else ""
        told = f"link {planned.id}: {fitted.name}, {planned.rate}, over {', '.join(planned.over)}{worth}. {look.words}"
        yield f"<g><title>{clean_line(told)}</title>"
        yield from (_line(course, look) for course in courses)
        x, y = _middle(longest)
        named = look.name in ("tight", "unknown") and tight <= _MOST_NAMED
        yield _marker(look, (x, y)) + (_name(planned.id, x, y - 8) if named else "") + "</g>\n"


def _pair(ends: tuple[str, str]) -> tuple[str, str]:
    return (ends[0], ends[1]) if ends[0] <= ends[1] else (ends[1], ends[0])


def _refused(dossier: Dossier, layout: Layout) -> Iterator[str]:
    """The links that are not served, from device to device, each with its cross and its name."""
    look = _LOOK["unserved"]
    links = {link.id: link for link in dossier.network.wanted}
    for refusal in sorted(dossier.plan.unserved, key=lambda refusal: refusal.id):
        course = _shifted(_course(layout, *links[refusal.id].devices), 9)
        x, y = _middle(course)
        yield f"<g><title>{clean_line(f'link {refusal.id} is not served ({refusal.kind})')}</title>{_line(course, look)}{_marker(look, (x, y))}"
        yield _name(refusal.id, x, y - 10) + "</g>\n"


def _name(name: str, x: float, y: float) -> str:
    """The name of a link above its marker, on white so that lines do not cross it out."""
    return f'<g stroke="#fff" stroke-width="3" paint-order="stroke">{text(x, y, cut(name, 24), anchor="middle", weight="bold")}</g>'


def _boxes(layout: Layout) -> Iterator[str]:
    for building in layout.buildings:
        corner = f'x="{building.x:.1f}" y="{building.y:.1f}" width="{WIDTH:g}"'
        yield (
            f'<g><title>{clean_line(building.title)}</title><rect {corner} height="{building.height:.1f}" fill="#fff" stroke="{INK}" stroke-width="1.2"/>'
            f'<rect {corner} height="{HEAD - 4:g}" fill="#ececec"/>'
        )
        yield text(building.x + 6, building.y + 12, cut(building.title, 24), weight="bold") + "</g>\n"
    for name, spot in layout.spots.items():
        panel = f' rx="{ROW / 2 - 2:g}" stroke-dasharray="3 2"' if spot.is_panel else ""
        yield (
            f'<g><title>{clean_line(name)}</title><rect x="{spot.left + 4:.1f}" y="{spot.y - ROW / 2 + 1.5:.1f}" width="{WIDTH - 8:g}" height="{ROW - 3:g}" '
            f'fill="{"#ececec" if spot.is_panel else "#fff"}" stroke="#8a8a8a" stroke-width="0.8"{panel}/>'
        )
        yield text(spot.left + 10, spot.y + 3.5, cut(name, 24)) + "</g>\n"
