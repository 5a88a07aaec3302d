"""The light of a plan as a picture: for each direction what the receiver bears, and what is expected to arrive there.

SVG that needs nothing beside itself: no script, no style sheet, no font or address from elsewhere. Told apart by shape and
pattern, so it reads the same on a black and white print.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from optiselect.handover.drawing import INK, clean_line, cut, text
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Direction, Plan, PlannedLink
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink
from optiselect.solver.audit import Refitter
from optiselect.standards.transceiver import Transceiver

BANDS: tuple[tuple[float, str], ...] = (
    (1.0, "Margin below 1 dB: clean and measure first"),
    (3.0, "Margin from 1 to 3 dB"),
    (math.inf, "Margin of 3 dB and more"),
)
"""Upper ends in dB of the bands that the chart is divided into, with their headings (common practice, no source)."""
_UNKNOWN = "A figure is unknown: the bar shows what is known"

_WIDTH = 1000
_PLOT = (440.0, 884.0)
_ROW = 17
_BAR = 10
_LINK, _ENDS, _MARGIN, _HEADROOM = (16, 18), (142, 38), 414, 986
"""Where the text of a row starts, and how many characters of it there is room for; where its margin and its room below overload end."""
_TICK_DB = 5
_ROWS_A_PAGE = 30
_PALE = "#c8c8c8"


@dataclass(frozen=True)
class Bar:
    """One direction of a link, levels in dBm at the receiver; None where a figure is unknown.

    Attributes:
        name: of the link. ends: sender and receiver.
        sensitivity_dbm, overload_dbm: what the receiver states.
        needed_dbm: the level at which nothing of the margin would be left, penalties included.
        low_dbm, high_dbm: what is expected, at the greatest and at the least loss.
        margin_db: `low_dbm` over `needed_dbm`.
    """

    name: str
    ends: tuple[str, str]
    sensitivity_dbm: float | None
    needed_dbm: float | None
    low_dbm: float | None
    high_dbm: float | None
    overload_dbm: float | None
    margin_db: float | None

    @property
    def levels(self) -> tuple[float, ...]:
        """Every level that is known."""
        known = (self.sensitivity_dbm, self.needed_dbm, self.low_dbm, self.high_dbm, self.overload_dbm)
        return tuple(level for level in known if level is not None)

    @property
    def headroom_db(self) -> float | None:
        """What is left between the greatest expected level and overload."""
        if self.high_dbm is None or self.overload_dbm is None:
            return None
        return round(self.overload_dbm - self.high_dbm, 3)

    @property
    def sentence(self) -> str:
        """Everything that is drawn, in words."""
        return (
            f"{self.name}, {self.ends[0]} to {self.ends[1]}: margin {_said(self.margin_db, 'dB')}; expected {_said(self.low_dbm, 'dBm')} to "
            f"{_said(self.high_dbm, 'dBm')}; needed {_said(self.needed_dbm, 'dBm')}, sensitivity {_said(self.sensitivity_dbm, 'dBm')}, "
            f"overload {_said(self.overload_dbm, 'dBm')}"
        )


def bars(plan: Plan, network: Network, catalog: Catalog) -> tuple[Bar, ...]:
    """A bar for each direction of each served link over fiber, the least margin first, unknown ones last.

    Args:
        plan: a plan of this network and catalog.
        network: says which optics are fixed in ports.
        catalog: states what each receiver bears.
    """
    refitter = Refitter(network, catalog, Policy())
    receivers = {f"{end.device}/{end.port}": refitter.end(end, link.rate).light for link in plan.links if link.directions for end in link.ends}
    return _in_order(_bar(link, way, receivers[way.to]) for link in plan.links for way in link.directions)


def bars_of(served: Iterable[tuple[PlannedLink, FittedLink]]) -> tuple[Bar, ...]:
    """The same of links whose ends are fitted already."""
    return _in_order(_bar(link, way, next(end.light for end in fitted.ends if end.name == way.to)) for link, fitted in served for way in link.directions)


def _in_order(drawn: Iterable[Bar]) -> tuple[Bar, ...]:
    """The least margin first, unknown ones last."""
    return tuple(sorted(drawn, key=lambda bar: (math.inf if bar.margin_db is None else bar.margin_db, bar.name, bar.ends)))


def _bar(link: PlannedLink, way: Direction, light: Transceiver | None) -> Bar:
    sensitivity, overload = light.rx_dbm if light is not None and light.rx_dbm is not None else (None, None)
    low, high = way.rx_dbm or (None, None)
    needed = None if low is None or way.margin_db is None else round(low - way.margin_db, 3)
    return Bar(link.id, (way.from_, way.to), sensitivity, needed, low, high, overload, way.margin_db)


def margins_svg(plan: Plan, network: Network, catalog: Catalog, drawn: Sequence[Bar] | None = None) -> str:
    """The chart of a plan as SVG: a bar for each direction from sensitivity to overload, with what is expected to arrive in it.

    Args:
        plan: a plan of this network and catalog.
        network: names the site, and says which optics are fixed in ports.
        catalog: states what each receiver bears.
        drawn: its `bars`, where they are known already.
    """
    drawn = bars(plan, network, catalog) if drawn is None else drawn
    return "".join(_picture(_title(plan, network), drawn, _Scale.over(drawn), summary(drawn, _dark(plan)), "margins"))


def margins_pages(
    plan: Plan, network: Network, catalog: Catalog, drawn: Sequence[Bar] | None = None, *, dark: int | None = None, most: int | None = None
) -> tuple[str, ...]:
    """The same chart in pieces that each fit a sheet of paper, on one scale; arguments as for `margins_svg`.

    Args:
        dark: how many links over copper are meant by what is drawn; omitted = those of the plan.
        most: how many pieces are drawn; omitted = all.
    """
    drawn = bars(plan, network, catalog) if drawn is None else drawn
    said = summary(drawn, _dark(plan) if dark is None else dark)
    title, scale = _title(plan, network), _Scale.over(drawn)
    if len(drawn) <= _ROWS_A_PAGE:
        return ("".join(_picture(title, drawn, scale, said, "margins")),)
    pages = [drawn[start : start + _ROWS_A_PAGE] for start in range(0, len(drawn), _ROWS_A_PAGE)]
    return tuple(
        "".join(_picture(f"{title} ({number} of {len(pages)})", page, scale, said, f"margins-{number}")) for number, page in enumerate(pages[:most], start=1)
    )


def _title(plan: Plan, network: Network) -> str:
    return f"Light at every receiver: {network.name or plan.network}".rstrip(": ")


def _dark(plan: Plan) -> int:
    return sum(not link.directions for link in plan.links)


def summary(drawn: Sequence[Bar], dark: int) -> str:
    """What the chart shows, in words for who does not see it. `dark`: served links without light, over copper."""
    if not drawn:
        return "No link of this plan sends light."
    known = [bar for bar in drawn if bar.margin_db is not None]
    tight = sum(bar.margin_db < BANDS[0][0] for bar in known if bar.margin_db is not None)
    words = [f"{_count(len(drawn), 'direction')}, least margin first."]
    if known:
        words += [f"Least margin: {_said(known[0].margin_db, 'dB')}, {known[0].name}.", f"Below 1 dB: {tight}."]
    if len(known) < len(drawn):
        words.append(f"Unknown: {len(drawn) - len(known)}.")
    if dark:
        words.append(f"Not shown: {_count(dark, 'link')} over copper.")
    return " ".join(words)


def _picture(title: str, drawn: Sequence[Bar], scale: _Scale, said: str, name: str) -> Iterator[str]:
    """One picture of some bars; `name` begins the ids in it."""
    bands = [(heading, members) for heading, members in _banded(drawn) if members]
    top = 150 if drawn else 70
    height = top + sum(30 + _ROW * len(members) for _, members in bands) + (44 if drawn else 10)
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH}" height="{height}" viewBox="0 0 {_WIDTH} {height}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="DejaVu Sans, Verdana, sans-serif" font-size="11" fill="{INK}">\n'
        f'<title id="{name}-title">{clean_line(title)}</title>\n<desc id="{name}-desc">{clean_line(said)}</desc>\n'
        f'<defs><pattern id="{name}-penalty" width="4" height="4" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<rect width="4" height="4" fill="#fff"/><rect width="1.4" height="4" fill="{INK}"/></pattern></defs>\n'
        f'<rect width="{_WIDTH}" height="{height}" fill="#fff"/>\n'
    )
    yield text(_LINK[0], 28, cut(title, 80), size=17, weight="bold")
    yield text(_LINK[0], 48, said)
    if drawn:
        yield from _key(name)
        yield from _plot(bands, scale, top, height - 44, name)
    yield "</svg>\n"


def _banded(drawn: Sequence[Bar]) -> Iterator[tuple[str, list[Bar]]]:
    low = -math.inf
    for high, heading in BANDS:
        yield heading, [bar for bar in drawn if bar.margin_db is not None and low <= bar.margin_db < high]
        low = high
    yield _UNKNOWN, [bar for bar in drawn if bar.margin_db is None]


@dataclass(frozen=True)
class _Scale:
    """Levels in dBm along the plot, on whole ticks."""

    low_dbm: int
    high_dbm: int

    @classmethod
    def over(cls, drawn: Sequence[Bar]) -> _Scale:
        levels = [level for bar in drawn for level in bar.levels] or [0.0]
        low, high = math.floor(min(levels) / _TICK_DB) * _TICK_DB, math.ceil(max(levels) / _TICK_DB) * _TICK_DB
        return cls(low, max(high, low + _TICK_DB))

    def at(self, level_dbm: float) -> float:
        left, right = _PLOT
        return left + (right - left) * (level_dbm - self.low_dbm) / (self.high_dbm - self.low_dbm)

    def ticks(self) -> range:
        step = _TICK_DB * max(1, round((self.high_dbm - self.low_dbm) / _TICK_DB / 12))
        return range(self.low_dbm, self.high_dbm + 1, step)


def _key(picture: str) -> Iterator[str]:
    """How to read a bar, drawn as one."""
    y = 84.0
    yield text(_LINK[0], y + 9, "How to read a bar", weight="bold")
    yield from _shape((142, 250, 470, 640, 840), y, picture)
    yield text(142, y - 5, "sensitivity", anchor="middle")
    yield text(840, y - 5, "overload", anchor="middle")
    yield text(196, y + 24, "link penalties", anchor="middle")
    yield text(360, y + 24, "margin", anchor="middle", weight="bold")
    yield text(555, y + 24, "expected to arrive", anchor="middle")
    yield text(740, y + 24, "below overload", anchor="middle")


def _plot(bands: Sequence[tuple[str, Sequence[Bar]]], scale: _Scale, top: int, bottom: int, picture: str) -> Iterator[str]:
    yield from _axis(scale, top, bottom)
    yield text(_LINK[0], top - 6, "link", weight="bold")
    yield text(_ENDS[0], top - 6, "from \N{RIGHTWARDS ARROW} to", weight="bold")
    yield text(_MARGIN, top - 6, "margin, dB", anchor="end", weight="bold")
    yield text(_HEADROOM, top - 19, "below", anchor="end", weight="bold")
    yield text(_HEADROOM, top - 6, "overload, dB", anchor="end", weight="bold")
    y = float(top)
    for heading, members in bands:
        yield f'<rect x="{_LINK[0] - 6}" y="{y + 7:g}" width="{_WIDTH - 20}" height="17" fill="#ececec"/>'
        yield text(_LINK[0], y + 19, heading, weight="bold")
        yield text(_HEADROOM, y + 19, str(len(members)), anchor="end", weight="bold")
        y += 30
        for bar in members:
            yield from _row(bar, scale, y, picture)
            y += _ROW


def _axis(scale: _Scale, top: int, bottom: int) -> Iterator[str]:
    for tick in scale.ticks():
        x = scale.at(tick)
        yield f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{top}" y2="{bottom + 4}" stroke="{_PALE}" stroke-width="{2 if tick == 0 else 1}"/>'
        for y in (top - 6, bottom + 17):
            yield text(x, y, f"{tick:d}".replace("-", "\N{MINUS SIGN}"), anchor="middle")
    yield text(sum(_PLOT) / 2, bottom + 33, "level at the receiver, dBm", anchor="middle")


def _row(bar: Bar, scale: _Scale, y: float, picture: str) -> Iterator[str]:
    yield f"<g><title>{clean_line(bar.sentence)}</title>"
    yield text(_LINK[0], y + 10, cut(bar.name, _LINK[1]))
    yield text(_ENDS[0], y + 10, cut(" \N{RIGHTWARDS ARROW} ".join(bar.ends), _ENDS[1]))
    yield text(_MARGIN, y + 10, _figure(bar.margin_db), anchor="end", weight="bold")
    levels = (bar.sensitivity_dbm, bar.needed_dbm, bar.low_dbm, bar.high_dbm, bar.overload_dbm)
    yield from _shape([None if level is None else scale.at(level) for level in levels], y + 1, picture)
    yield text(_HEADROOM, y + 10, _figure(bar.headroom_db), anchor="end")
    yield "</g>\n"


def _shape(places: Sequence[float | None], y: float, picture: str) -> Iterator[str]:
    """A bar whose sensitivity, need, least and greatest expected level and overload are at these places; what is unknown is left out."""
    sensitivity, needed, low, high, overload = places
    starts = [place for place in (sensitivity, needed) if place is not None]
    start = min(starts) if starts else None
    if start is not None and overload is not None:
        yield f'<rect x="{start:.1f}" y="{y:g}" width="{max(overload - start, 0):.1f}" height="{_BAR}" fill="#fff" stroke="{INK}" stroke-width="0.8"/>'
    if sensitivity is not None and needed is not None and needed > sensitivity:
        yield (
            f'<rect x="{sensitivity:.1f}" y="{y:g}" width="{needed - sensitivity:.1f}" height="{_BAR}" fill="url(#{picture}-penalty)" '
            f'stroke="{INK}" stroke-width="0.8"/>'
        )
    if low is not None and high is not None:
        yield f'<rect x="{low:.1f}" y="{y + 1.5:g}" width="{max(high - low, 1.5):.1f}" height="{_BAR - 3}" fill="{INK}"/>'
    if overload is not None:
        yield f'<line x1="{overload:.1f}" x2="{overload:.1f}" y1="{y - 2:g}" y2="{y + _BAR + 2:g}" stroke="{INK}" stroke-width="2.5"/>'


def _figure(value: float | None) -> str:
    return "?" if value is None else f"{value:.2f}".replace("-", "\N{MINUS SIGN}")


def _said(value: float | None, unit: str) -> str:
    return "unknown" if value is None else f"{value:.2f} {unit}"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
