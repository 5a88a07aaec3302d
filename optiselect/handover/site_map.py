"""The site as a picture: buildings, devices, panels, runs, and on them the links, told apart by color and by shape.

SVG that needs nothing beside itself; every text is escaped. Dash and marker say the same as the color, so that it reads in black and white.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from optiselect.handover.dossier import Dossier
from optiselect.handover.drawing import INK, clean_line, cut, text
from optiselect.handover.site_courses import LOOKS, Course, DrawnLink, Look, Point, course_between, drawn_links, names_beside
from optiselect.handover.site_layout import HEAD, ROW, WIDTH, Layout, layout_of

_TOP, _LEFT, _EDGE = 118.0, 70.0, 150.0
_NAMED = ("unserved", "unknown", "tight")
"""Looks whose links are named on the map, the most important first."""
_CHARACTER, _LINE = 6.6, 11.0


def site_map_svg(dossier: Dossier) -> str:
    """The map of a plan as SVG."""
    return "".join(_picture(dossier, layout_of(dossier.network)))


def _picture(dossier: Dossier, layout: Layout) -> Iterator[str]:
    links = drawn_links(dossier, layout)
    width, height = max(layout.width + _LEFT + _EDGE, 1060.0), layout.height + _TOP + 24
    said = _summary(links)
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
    yield from (_link(link) for link in links if link.look.name != "unserved")
    yield from _boxes(layout)
    yield from (_link(link) for link in links if link.look.name == "unserved")
    yield from _names(links)
    yield "</g>\n</svg>\n"


def _summary(links: Sequence[DrawnLink]) -> str:
    counts = Counter(link.look.words for link in links)
    return ". ".join(["Not to scale", *(f"{look.words}: {counts[look.words]}" for look in LOOKS if counts[look.words])]) + "."


def _key() -> Iterator[str]:
    for place, look in enumerate(LOOKS):
        x, y = 20.0 + 310 * (place % 3), 66.0 + 20 * (place // 3)
        yield _line(Course(((x, y), (x + 46, y))), look) + _marker(look, (x + 23, y)) + text(x + 54, y + 4, look.words)
    yield f'<rect x="950" y="59" width="24" height="12" fill="#fff" stroke="{INK}"/>' + text(980, 69, "device")
    yield f'<rect x="950" y="79" width="24" height="12" rx="6" fill="#ececec" stroke="{INK}" stroke-dasharray="3 2"/>' + text(980, 89, "panel")


def _curve(course: Course) -> str:
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = course.curve
    return f"M{x1:.1f} {y1:.1f}C{x2:.1f} {y2:.1f} {x3:.1f} {y3:.1f} {x4:.1f} {y4:.1f}"


def _line(course: Course, look: Look) -> str:
    dash = f' stroke-dasharray="{look.dash}"' if look.dash else ""
    return f'<path d="{_curve(course)}" fill="none" stroke="{look.color}" stroke-width="{look.width:g}"{dash}/>'


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
        d = _curve(course_between(layout, *run.ends))
        yield f'<g><title>{clean_line(told)}</title><path d="{d}" fill="none" stroke="#d9d9d9" stroke-width="7" stroke-linecap="round"/></g>\n'


def _link(link: DrawnLink) -> str:
    lines = "".join(_line(course, link.look) for course in link.courses)
    return f"<g><title>{clean_line(link.told)}</title>{lines}{_marker(link.look, link.marker)}</g>\n"


def _names(links: Sequence[DrawnLink]) -> Iterator[str]:
    """The names of the links that need attention, on white so that no line crosses them out."""
    named = [link for name in _NAMED for link in links if link.look.name == name]
    for name, (x, y, anchor) in names_beside(named, _CHARACTER, _LINE).items():
        yield f'<g stroke="#fff" stroke-width="3" paint-order="stroke">{text(x, round(y, 1), cut(name, 24), anchor=anchor, weight="bold")}</g>\n'


def _boxes(layout: Layout) -> Iterator[str]:
    for building in layout.buildings:
        corner = f'x="{building.x:.1f}" y="{building.y:.1f}" width="{WIDTH:g}"'
        yield (
            f'<g><title>{clean_line(building.title)}</title><rect {corner} height="{building.height:.1f}" fill="#fff" stroke="{INK}" stroke-width="1.2"/>'
            f'<rect {corner} height="{HEAD - 4:g}" fill="#ececec"/>'
        )
        yield text(building.x + 6, round(building.y + 12, 1), cut(building.title, 24), weight="bold") + "</g>\n"
    for name, spot in layout.spots.items():
        panel = f' rx="{ROW / 2 - 2:g}" stroke-dasharray="3 2"' if spot.is_panel else ""
        yield (
            f'<g><title>{clean_line(name)}</title><rect x="{spot.left + 4:.1f}" y="{spot.y - ROW / 2 + 1.5:.1f}" width="{WIDTH - 8:g}" height="{ROW - 3:g}" '
            f'fill="{"#ececec" if spot.is_panel else "#fff"}" stroke="#8a8a8a" stroke-width="0.8"{panel}/>'
        )
        yield text(spot.left + 10, round(spot.y + 3.5, 1), cut(name, 24)) + "</g>\n"
