"""The page in a browser: it asks for nothing, complains of nothing, sorts, filters, prints whole rows, and can be used without a mouse."""

from __future__ import annotations

import io
import os
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

from optiselect import solve
from optiselect.handover import places
from optiselect.handover.dossier import Dossier
from optiselect.handover.hand_over import HandedOver, hand_over
from tests.handover.browser import Page, browser_path
from tests.handover.test_hostile import NAMES, TEXTS, hostile_documents

_PAGES = ("handover.html", "labels.html", "map.svg", "margins.svg")
_PORTS = "document.querySelector('#ports table')"
_SORTED = "[...document.querySelectorAll('#bill tbody tr')].map(row => Number(row.cells[INDEX].dataset.v))"


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    path = browser_path()
    if path is None:
        if os.environ.get("OPTISELECT_BROWSER") == "required":
            pytest.fail("a browser is required here and none is installed: apt-get install chromium")
        pytest.skip("no browser is installed, so the page is not looked at in one; apt-get install chromium")
    opened = Page(path)
    yield opened
    opened.close()


@pytest.fixture
def report(page: Page, written: HandedOver, folder: Path) -> Page:
    page.open(folder / "handover.html")
    return page


@pytest.fixture(scope="module")
def large(terminal: Dossier, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The papers of the terminal, taken to be a large estate."""
    folder = tmp_path_factory.mktemp("large")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(places, "LARGE", 20)
        patched.setattr(places, "MOST_ROWS", 90)
        hand_over(terminal.plan, folder, terminal.network, terminal.catalog, terminal.policy)
    return folder


def _pressed(text: str) -> str:
    """Text without spaces and ligatures, of which a print makes its own."""
    return "".join(unicodedata.normalize("NFKC", text).split())


@pytest.mark.parametrize("name", _PAGES)
def test_opens_from_disk_without_a_request_or_a_complaint(name: str, page: Page, written: HandedOver, folder: Path) -> None:
    page.open(folder / name)

    assert (page.requests(), page.complaints()) == ([], [])


def test_every_row_of_every_paper_is_shown(report: Page, terminal: Dossier) -> None:
    shown = report.run("Object.fromEntries([...document.querySelectorAll('section[data-table]')].map(s => [s.id, s.querySelectorAll('tbody tr').length]))")

    assert shown == {
        name: len(terminal.plan.paper(name, terminal.network, terminal.catalog, terminal.policy).rows)
        for name in ("bill", "ports", "cords", "strands", "limits", "labels", "spares", "cautions", "questions")
    }


def test_a_click_on_a_heading_sorts_and_another_turns_it_round(report: Page) -> None:
    heads: list[str] = report.run("[...document.querySelectorAll('#bill thead button')].map(button => button.textContent)")
    index = heads.index("total, EUR")
    orders = []
    for _ in range(2):
        report.run(f"document.querySelectorAll('#bill thead button')[{index}].click()")
        orders.append(report.run(_SORTED.replace("INDEX", str(index))))

    assert orders == [sorted(orders[0]), sorted(orders[0], reverse=True)]
    assert report.run(f"document.querySelectorAll('#bill thead th')[{index}].getAttribute('aria-sort')") == "descending"


def test_the_filter_leaves_rows_that_hold_every_word(report: Page) -> None:
    report.run("(f => { f.value = 'core-a RING-1'; f.dispatchEvent(new Event('input')); })(document.getElementById('ports-filter'))")
    left = report.run(f"[...{_PORTS}.tBodies[0].rows].filter(row => !row.hidden).map(row => row.cells[0].textContent + '/' + row.cells[1].textContent)")

    assert left == ["berth-1-sw/r1", "core-a/20"]
    assert report.run("document.querySelector('#ports output').textContent") == "2 of 136 rows"


def test_keyboard_alone_sorts(report: Page) -> None:
    report.run("document.querySelector('#spares thead button').focus()")
    report.press("Enter", 13)

    assert report.run("document.querySelector('#spares thead th').getAttribute('aria-sort')") == "ascending"


def test_print_cuts_no_row_and_loses_none(report: Page, terminal: Dossier) -> None:
    """All the cells of each row of the cord list and of the port schedule stand on one sheet."""
    report.run("document.querySelectorAll('section:not(#cords):not(#ports)').forEach(section => section.remove())")
    sheets = [_pressed(page.extract_text() or "") for page in pypdf.PdfReader(io.BytesIO(report.pdf())).pages]
    rows = report.run("[...document.querySelectorAll('#cords tbody tr, #ports tbody tr')].map(row => [...row.cells].map(cell => cell.textContent.trim()))")
    lost = [row for row in rows if not any(all(_pressed(cell) in sheet for cell in row) for sheet in sheets)]

    assert len(rows) == 208
    assert lost == []


def test_print_leaves_nothing_beside_the_paper(report: Page) -> None:
    """A4 across, less its margins, is 279 mm wide: 1054 CSS pixels."""
    report._call("Emulation.setEmulatedMedia", media="print")
    report._call("Emulation.setDeviceMetricsOverride", width=1054, height=700, deviceScaleFactor=1, mobile=False)
    wide = report.run(
        "[...document.querySelectorAll('table, figure svg')].filter(e => e.getBoundingClientRect().right > 1055).map(e => e.closest('section').id)"
    )
    report._call("Emulation.setEmulatedMedia", media="")
    report._call("Emulation.clearDeviceMetricsOverride")

    assert wide == []


def test_a_narrow_screen_scrolls_tables_and_not_the_page(report: Page) -> None:
    report._call("Emulation.setDeviceMetricsOverride", width=400, height=800, deviceScaleFactor=1, mobile=False)
    widths = report.run("[document.documentElement.scrollWidth, innerWidth]")
    report._call("Emulation.clearDeviceMetricsOverride")

    assert widths[0] <= widths[1]


_RULES = {
    "the page has a language, a title and one first heading": (
        "!!document.documentElement.lang && !!document.title && document.querySelectorAll('h1').length === 1"
    ),
    "every id stands once": "new Set([...document.querySelectorAll('[id]')].map(e => e.id)).size === document.querySelectorAll('[id]').length",
    "headings skip no level": "[...document.querySelectorAll('h1,h2,h3,h4')].map(h => +h.tagName[1]).every((l, i, all) => i === 0 || l <= all[i - 1] + 1)",
    "there is one main landmark": "document.querySelectorAll('main').length === 1",
    "every navigation is named": "[...document.querySelectorAll('nav')].every(n => n.getAttribute('aria-label'))",
    "every link leads somewhere on the page": "[...document.querySelectorAll('a[href]')].every(a => document.getElementById(a.getAttribute('href').slice(1)))",
    "every field has a label": "[...document.querySelectorAll('input')].every(i => i.labels.length === 1 && i.labels[0].textContent.trim())",
    "every button says what it does": "[...document.querySelectorAll('button')].every(b => b.textContent.trim())",
    "every reference by id is answered": (
        "[...document.querySelectorAll('[aria-labelledby],[for]')].every(e => (e.getAttribute('aria-labelledby') || e.getAttribute('for'))"
        ".split(' ').every(id => document.getElementById(id)))"
    ),
    "every table has a caption, and headings with a scope": (
        "[...document.querySelectorAll('table')].every(t => t.caption && [...t.querySelectorAll('th')].every(h => h.scope))"
    ),
    "every row has as many cells as the head": (
        "[...document.querySelectorAll('table')].every(t => [...t.rows].every(r => r.cells.length === t.tHead.rows[0].cells.length))"
    ),
    "what scrolls can be reached by keyboard": "[...document.querySelectorAll('.scroll')].every(s => s.tabIndex === 0 && s.getAttribute('aria-label'))",
    "every picture has a name": "[...document.querySelectorAll('svg[role=img]')].every(s => s.getAttribute('aria-labelledby') || s.getAttribute('aria-label'))",
    "news of sorting and filtering is announced": "[...document.querySelectorAll('output')].every(o => o.getAttribute('aria-live') === 'polite')",
}
"""Rules of the Web Content Accessibility Guidelines 2.2 (W3C) that a page of this kind can break, as expressions in the page."""
_CONTRAST = """(() => {
  const lum = c => { const v = c.match(/[\\d.]+/g).slice(0, 3).map(x => x / 255).map(x => x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
                     return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
  const back = e => { for (; e; e = e.parentElement) { const c = getComputedStyle(e).backgroundColor; if (!/, 0\\)$/.test(c)) return c; }
                      return 'rgb(255,255,255)'; };
  const seen = new Set(), bad = [];
  document.querySelectorAll('h1,h2,h3,p,li,a,dt,dd,th,td,label,output,button,b,span,i').forEach(e => {
    const f = getComputedStyle(e).color, b = back(e), key = f + b;
    if (seen.has(key)) return; seen.add(key);
    const [x, y] = [lum(f), lum(b)].sort((p, q) => q - p);
    if ((x + 0.05) / (y + 0.05) < 4.5) bad.push(e.tagName + ' ' + f + ' on ' + b);
  });
  return bad;
})()"""


@pytest.mark.parametrize("rule", _RULES)
def test_page_is_accessible(rule: str, report: Page) -> None:
    assert report.run(_RULES[rule]) is True


@pytest.mark.parametrize("name", ["handover.html", "labels.html"])
def test_text_stands_out_from_what_is_behind_it(name: str, page: Page, written: HandedOver, folder: Path) -> None:
    """WCAG 2.2, 1.4.3: a contrast of 4.5 to 1."""
    page.open(folder / name)

    assert page.run(_CONTRAST) == []


@pytest.mark.parametrize("rule", [rule for rule in _RULES if rule != "every link leads somewhere on the page"])
@pytest.mark.parametrize("name", ["handover.html", "pages/001.html"])
def test_pages_of_a_large_estate_are_accessible_and_ask_for_nothing(name: str, rule: str, page: Page, large: Path) -> None:
    page.open(large / name)

    assert page.run(_RULES[rule]) is True
    assert (page.requests(), page.complaints()) == ([], [])


def test_every_link_of_a_large_estate_leads_somewhere(page: Page, large: Path) -> None:
    for path in (large / "handover.html", large / "pages" / "001.html", large / "pages" / "002.html"):
        page.open(path)
        hrefs: list[str] = page.run("[...document.querySelectorAll('a[href]')].map(a => a.getAttribute('href'))")

        assert all(page.run(f"!!document.getElementById({href[1:]!r})") if href[0] == "#" else (path.parent / href).exists() for href in hrefs)


def test_a_way_leads_from_a_link_on_the_first_page_to_its_port(page: Page, large: Path) -> None:
    page.open(large / "handover.html")
    page.run("(f => { f.value = 'ring-1'; f.dispatchEvent(new Event('input')); })(document.getElementById('links-filter'))")
    left = "[...document.querySelectorAll('#links tbody tr')].filter(row => !row.hidden)[0]"
    end, href = page.run(f"[{left}.cells[2].textContent, {left}.cells[3].querySelector('a').getAttribute('href')]")
    page.open(large / href)

    assert end in page.run("[...document.querySelectorAll('#ports tbody tr')].map(row => row.cells[0].textContent + '/' + row.cells[1].textContent)")


@pytest.mark.parametrize("name", ["script", "attribute", "long", "right to left"])
def test_hostile_names_run_nothing_and_keep_to_the_page(name: str, page: Page, tmp_path: Path) -> None:
    network, catalog = hostile_documents(NAMES[name][:1000], TEXTS[name][:1000])
    hand_over(solve(network, catalog), tmp_path, network, catalog)
    page.open(tmp_path / "handover.html")

    assert page.run("typeof window.hit") == "undefined"
    assert page.run("document.documentElement.scrollWidth <= innerWidth") is True
    assert (page.requests(), page.complaints()) == ([], [])
