"""How runs and links go on the map of a site: their courses, their looks, and where their markers and names stand."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import product

from optiselect.handover.dossier import Dossier
from optiselect.handover.drawing import INK
from optiselect.handover.margins import BANDS
from optiselect.handover.site_layout import WIDTH, Layout, Spot
from optiselect.model.plan import PlannedLink

_SPREAD, _WIDEST = 3.2, 22.0
"""Distance of two links on one run, and of the outermost two where many share it."""
Point = tuple[float, float]
_Box = tuple[float, float, float, float]


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
"""Colors after a palette made for color-blind readers (Okabe and Ito, from memory), darkened where white is behind."""
_LOOK = {look.name: look for look in LOOKS}


@dataclass(frozen=True)
class Course:
    """Points of one piece: two between columns, three (the middle one outside) within a column."""

    points: tuple[Point, ...]

    @property
    def curve(self) -> tuple[Point, Point, Point, Point]:
        """Start, two controls and end of its cubic curve."""
        if len(self.points) == 2:
            (x1, y1), (x2, y2) = self.points
            bend = (x2 - x1) * 0.35
            return (x1, y1), (x1 + bend, y1), (x2 - bend, y2), (x2, y2)
        (x1, y1), (out, _), (x3, y3) = self.points
        return (x1, y1), (out, y1), (out, y3), (x3, y3)

    @property
    def middle(self) -> Point:
        """The middle of the curve."""
        a, b, c, d = self.curve
        return (a[0] + 3 * b[0] + 3 * c[0] + d[0]) / 8, (a[1] + 3 * b[1] + 3 * c[1] + d[1]) / 8

    def moved(self, by: float) -> Course:
        """The course moved sidewise, so that links that share a run lie beside each other."""
        (x1, y1), (x2, y2) = self.points[0], self.points[-1]
        length = math.hypot(x2 - x1, y2 - y1) or 1.0
        dx, dy = (-(y2 - y1) / length * by, (x2 - x1) / length * by) if len(self.points) == 2 else (by, 0.0)
        return Course(tuple((x + dx, y + dy) for x, y in self.points))


@dataclass(frozen=True)
class DrawnLink:
    """A link on the map: its look, a course for each run, and what is told of it."""

    name: str
    look: Look
    courses: tuple[Course, ...]
    told: str

    @property
    def marker(self) -> Point:
        """Where its marker stands: in the middle of its longest piece."""
        return max(self.courses, key=lambda course: math.dist(course.points[0], course.points[-1])).middle


def course_between(layout: Layout, a: str, b: str) -> Course:
    """From one place to another: straight between columns, around the side of the boxes within one."""
    one, two = layout.spots[a], layout.spots[b]
    if one.left == two.left:
        side = one.left + WIDTH
        return Course(((side, one.y), (side + min(135.0, 20 + abs(one.y - two.y) * 0.85), (one.y + two.y) / 2), (side, two.y)))
    return Course(((_side(one, two), one.y), (_side(two, one), two.y)))


def _side(here: Spot, there: Spot) -> float:
    return here.left + WIDTH if there.left > here.left else here.left


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


def drawn_links(of: Dossier, layout: Layout) -> tuple[DrawnLink, ...]:
    """Every link: the served ones along their runs, beside each other where they share one; then the others, from device to device."""
    return (*_served(of, layout), *_unserved(of, layout))


def _served(of: Dossier, layout: Layout) -> Iterator[DrawnLink]:
    lanes: dict[tuple[str, str], dict[str, int]] = defaultdict(dict)
    count: Counter[tuple[str, str]] = Counter()
    for planned, fitted in of.served:
        for run in fitted.path.runs:
            lanes[_pair(run.ends)].setdefault(planned.id, count[_pair(run.ends)])
            count[_pair(run.ends)] += 1
    for planned, fitted in of.served:
        courses = []
        for run in fitted.path.runs:
            pair = _pair(run.ends)
            lane = lanes[pair][planned.id] - (count[pair] - 1) / 2
            courses.append(course_between(layout, *pair).moved(lane * min(_SPREAD, _WIDEST / count[pair])))
        margins = [way.margin_db for way in planned.directions if way.margin_db is not None]
        worth = f", least margin {min(margins):.2f} dB" if margins else ""
        look = look_of(planned)
        told = f"link {planned.id}: {fitted.name}, {planned.rate}, over {', '.join(planned.over)}{worth}. {look.words}"
        yield DrawnLink(planned.id, look, tuple(courses), told)


def _unserved(of: Dossier, layout: Layout) -> Iterator[DrawnLink]:
    links = {link.id: link for link in of.network.wanted}
    for refusal in sorted(of.plan.unserved, key=lambda refusal: refusal.id):
        course = course_between(layout, *links[refusal.id].devices).moved(9)
        yield DrawnLink(refusal.id, _LOOK["unserved"], (course,), f"link {refusal.id} is not served ({refusal.kind})")


def _pair(ends: tuple[str, str]) -> tuple[str, str]:
    return (ends[0], ends[1]) if ends[0] <= ends[1] else (ends[1], ends[0])


def names_beside(links: Iterable[DrawnLink], width: float, height: float) -> dict[str, tuple[float, float, str]]:
    """Where the names of links stand: beside their markers, on none of the others; a name that finds no room is left out.

    Args:
        links: those to be named, the most important first.
        width: of one character. height: of a line.

    Returns:
        By link, the place of the text and which end of it is there: start, middle or end.
    """
    several = list(links)
    room_left = _Room()
    for x, y in (link.marker for link in several):
        room_left.take((x - 7, y - 7, x + 7, y + 7))
    found: dict[str, tuple[float, float, str]] = {}
    for link in several:
        x, y = link.marker
        room = min(len(link.name), 24) * width
        tries = (
            (x, y - 10, "middle", x - room / 2),
            (x, y + 10 + height * 0.7, "middle", x - room / 2),
            (x + 10, y + height * 0.3, "start", x + 10),
            (x - 10, y + height * 0.3, "end", x - 10 - room),
        )
        for at_x, at_y, anchor, left in tries:
            box = (left, at_y - height * 0.8, left + room, at_y + height * 0.2)
            if room_left.has(box):
                room_left.take(box)
                found[link.name] = at_x, at_y, anchor
                break
    return found


class _Room:
    """What is taken of a picture: boxes, kept by the squares that they touch, so that a box is compared with those near it only."""

    _SQUARE = 80.0

    def __init__(self) -> None:
        self._taken: dict[tuple[int, int], list[_Box]] = defaultdict(list)

    def _squares(self, box: _Box) -> Iterator[tuple[int, int]]:
        left, top, right, bottom = [math.floor(edge / self._SQUARE) for edge in box]
        return product(range(left, right + 1), range(top, bottom + 1))

    def take(self, box: _Box) -> None:
        for square in self._squares(box):
            self._taken[square].append(box)

    def has(self, box: _Box) -> bool:
        """Whether nothing that is taken reaches into a box."""
        near = (other for square in self._squares(box) for other in self._taken.get(square, ()))
        return not any(box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3] for other in near)
