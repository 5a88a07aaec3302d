"""A large estate by place: which page a device or panel stands on, and what of the long papers belongs there.

A closet stays together, and closets are put on a page by name until it is full; so whoever goes there needs one page, which opens at
once. A building with more than a page holds is divided by device. Strands stand on the pages of both ends of their run; acceptance
limits, which are filled in once, on that of its first end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from optiselect.handover import frames
from optiselect.handover.dossier import Dossier
from optiselect.handover.margins import Bar
from optiselect.handover.sheet import Column, Sheet, listed
from optiselect.handover.site_layout import zones_of
from optiselect.handover.tables import Cell

LARGE = 1_500
"""Rows of one paper from which an estate is handed over by place; 1,000 ports on one page take a browser two seconds (measured)."""
MOST_ROWS = 2_500
"""Rows of all papers together that a page of several devices holds at most."""
FOLDER = "pages"
_PLACES: dict[str, tuple[str, ...]] = {"ports": ("device",), "cords": ("at",), "strands": ("end_a", "end_b"), "limits": ("end_a",), "labels": ("device",)}
"""The long papers, and in which columns of each stands where a row belongs: a device, a panel, or a port of a device."""


@dataclass(frozen=True)
class PlacePage:
    """A page of some places.

    Attributes:
        number: from 1.
        zones: the buildings, or sites, of which something stands here.
        nodes: ids of devices and panels.
        sheets: of each long paper the rows that belong here.
        links: ids of the links that end or pass here.
        bars: the light at the receivers here, the least margin first.
    """

    number: int
    zones: tuple[str, ...]
    nodes: tuple[str, ...]
    sheets: tuple[Sheet, ...]
    links: frozenset[str]
    bars: tuple[Bar, ...]

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.number:03d}.html"


def long_papers() -> tuple[str, ...]:
    """The names of the papers that grow with the estate."""
    return tuple(_PLACES)


def is_large(sheets: Mapping[str, Sheet]) -> bool:
    """Whether an estate is too large for one page."""
    return max(len(sheets[name].rows) for name in _PLACES) > LARGE


def place_pages(of: Dossier, sheets: Mapping[str, Sheet]) -> tuple[PlacePage, ...]:
    """The pages of an estate; none when it fits one page.

    Args:
        of: the plan and its documents.
        sheets: the papers, by name.
    """
    if not is_large(sheets):
        return ()
    placed = {name: [(row, _nodes_of(row, columns)) for row in sheets[name].rows] for name, columns in _columns(sheets).items()}
    rows = Counter(node for members in placed.values() for _, nodes in members for node in nodes)
    packed = list(_packed(zones_of(of.network), rows))
    page_of = {node: place for place, (_, nodes) in enumerate(packed) for node in nodes}
    divided: list[dict[str, list[tuple[Cell, ...]]]] = [{name: [] for name in placed} for _ in packed]
    for name, members in placed.items():
        for row, nodes in members:
            for place in dict.fromkeys(page_of[node] for node in nodes):
                divided[place][name].append(row)
    bars: list[list[Bar]] = [[] for _ in packed]
    for bar in of.bars:
        bars[page_of[_node(bar.ends[1])]].append(bar)
    own = [tuple(replace(sheets[name], rows=tuple(rows_here)) for name, rows_here in division.items()) for division in divided]
    served = frozenset(planned.id for planned in of.plan.links)
    return tuple(PlacePage(place + 1, *packed[place], own[place], _links_of(own[place]) & served, tuple(bars[place])) for place in range(len(packed)))


def _links_of(sheets: tuple[Sheet, ...]) -> frozenset[str]:
    """What stands in the columns for links: their ids, and words where there is none."""
    return frozenset(str(cell) for sheet in sheets if "link" in sheet.names for cell in sheet.column("link"))


def _columns(sheets: Mapping[str, Sheet]) -> dict[str, list[int]]:
    return {name: [sheets[name].names.index(column) for column in columns] for name, columns in _PLACES.items()}


def _nodes_of(row: tuple[Cell, ...], columns: list[int]) -> tuple[str, ...]:
    return tuple([_node(str(row[column])) for column in columns])


def _node(place: str) -> str:
    """The device of ``device/port``; a device or panel as it is. No id has a slash in it."""
    return place.partition("/")[0]


def _packed(zones: Mapping[str, list[str]], rows: Mapping[str, int]) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Zones and nodes of each page."""
    here: dict[str, list[str]] = {}
    count = 0
    for zone, names in zones.items():
        whole = sum(rows[name] for name in names) <= MOST_ROWS
        for together in [names] if whole else [[name] for name in names]:
            more = sum(rows[name] for name in together)
            if here and count + more > MOST_ROWS:
                yield tuple(here), tuple(chain.from_iterable(here.values()))
                here, count = {}, 0
            here.setdefault(zone, []).extend(together)
            count += more
    yield tuple(here), tuple(chain.from_iterable(here.values()))


def pages_sheet(pages: Sequence[PlacePage]) -> Sheet:
    """Which page each place stands on."""
    columns = (
        Column("page", "page"),
        Column("places", "places"),
        Column("nodes", "devices and panels"),
        Column("links", "links", "count"),
        Column("rows", "rows", "count"),
    )
    about = (
        "Ports, cords, strands, acceptance limits and labels of each place stand on its page, with the light at its receivers.",
        "Strands stand on the pages of both ends of their run, acceptance limits on that of its first end. All rows of all places: "
        "handover.xlsx, handover.json and the folder tables.",
    )
    rows = tuple((str(page.number), listed(page.zones), listed(page.nodes), len(page.links), sum(len(sheet.rows) for sheet in page.sheets)) for page in pages)
    return Sheet("places", "Pages by place", about, columns, rows)


def links_sheet(of: Dossier, pages: Sequence[PlacePage]) -> Sheet:
    """Which pages each served link stands on."""
    page_of = {node: str(page.number) for page in pages for node in page.nodes}
    columns = (
        Column("link", "link"),
        Column("rate", "rate"),
        *(Column("end_a", "end A"), Column("page_a", "page")),
        *(Column("end_b", "end B"), Column("page_b", "page")),
        Column("over", "over"),
        Column("least_margin_db", "least margin, dB", "figure"),
    )
    rows = tuple(
        (link, rate, end_a, page_of[_node(end_a)], end_b, page_of[_node(end_b)], over, least)
        for link, rate, end_a, end_b, over, _, least, _ in frames.rows(of.plan, "links")
    )
    return Sheet("links", "Links and their pages", ("Every served link, with the pages of its two ends.",), columns, rows)
