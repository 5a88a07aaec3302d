"""The page and the labels as text: one script that is ours, codes that are codes, and nothing from elsewhere."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import segno

from optiselect.handover.dossier import Dossier
from optiselect.handover.hand_over import HandedOver
from optiselect.handover.label_page import labels_page
from optiselect.handover.papers import PAPERS
from tests.handover.causeway import causeway
from tests.handover.test_codes import modules


def _page(folder: Path) -> str:
    return (folder / "handover.html").read_text(encoding="utf-8")


def test_only_the_script_whose_hash_is_stated_may_run(written: HandedOver, folder: Path) -> None:
    (script,) = re.findall(r"<script>(.*?)</script>", _page(folder), re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()

    assert f"default-src &#39;none&#39;; style-src &#39;unsafe-inline&#39;; img-src data:; script-src &#39;sha256-{digest}&#39;" in _page(folder)


def test_script_holds_no_data(written: HandedOver, folder: Path, terminal: Dossier) -> None:
    (script,) = re.findall(r"<script>(.*?)</script>", _page(folder), re.DOTALL)

    assert not [link.id for link in terminal.plan.links if f'"{link.id}"' in script]
    assert not re.search(r"fetch|XMLHttpRequest|innerHTML|eval|import\b|http", script)


def test_page_names_no_address(written: HandedOver, folder: Path) -> None:
    assert set(re.findall(r"https?://[^\s\"'<)]+", _page(folder))) == {"http://www.w3.org/2000/svg"}


def test_cautions_come_before_everything_else(written: HandedOver, folder: Path) -> None:
    page = _page(folder)

    assert page.index("never look into a port") < page.index("glance-h") < page.index('id="map"') < page.index('id="bill"')


def test_every_paper_has_a_place_and_a_way_to_it(written: HandedOver, folder: Path) -> None:
    page = _page(folder)

    assert re.findall(r'<section class="paper[^"]*" id="([a-z]+)"', page) == list(PAPERS)
    assert all(f'href="#{name}"' in page for name in PAPERS)


def test_code_of_a_label_is_the_code_of_its_port() -> None:
    """Drawn anew, module by module, by the library that makes codes."""
    of = causeway()
    page = labels_page(of, PAPERS["labels"](of))
    boxes = dict(re.findall(r'<svg viewBox="([^"]+)" role="img" aria-label="code of ([^"]+)"', page))
    drawn = dict(re.findall(r'aria-label="code of ([^"]+)"><path d="([^"]+)"', page))
    expected = segno.make("core/1", error="m", micro=False, boost_error=False, mask=3).matrix

    assert modules(drawn["core/1"], len(expected)) == [[bool(module) for module in row] for row in expected]
    assert f"-4 -4.5 {len(expected) + 8} {len(expected) + 8}" in boxes  # four light modules all around


def test_there_is_a_label_for_every_row(terminal: Dossier, written: HandedOver, folder: Path) -> None:
    assert (folder / "labels.html").read_text(encoding="utf-8").count("<li>") == len(PAPERS["labels"](terminal).rows)
