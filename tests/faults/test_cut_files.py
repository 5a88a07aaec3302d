"""A file that we wrote and that ends too early or is missing is refused or says the same; one written by hand is read as it is."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import pytest

from optiselect.demo import demo_policy
from optiselect.errors import DocumentError
from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from tests.formats.quay import QUAY, SHELF
from tests.handover.pier import CATALOG, NETWORK, plan

CUTS = 60


def places(length: int, name: str) -> list[int]:
    """The half, the first and the last bytes, and others at random."""
    draw = Random(name)
    return sorted({0, 1, length // 2, length - 3, length - 2, *(draw.randrange(length - 2) for _ in range(CUTS))})


def cut(path: Path, at: int) -> Path:
    short = path.with_name(f"short{path.suffix}")
    short.write_bytes(path.read_bytes()[:at])
    return short


@pytest.mark.parametrize(
    ("document", "suffix"),
    [
        *((document, ".json") for document in (QUAY, SHELF, NETWORK, demo_policy(), plan())),
        *((document, ".xlsx") for document in (QUAY, SHELF)),
        *((document, ".yaml") for document in (QUAY, SHELF, NETWORK, CATALOG, demo_policy(), plan())),
    ],
    ids=lambda value: value if isinstance(value, str) else value.what,
)
def test_cut_file_is_refused(document: Document, suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"it{suffix}"
    document.save(path)
    for at in places(path.stat().st_size, suffix):
        with pytest.raises(DocumentError):
            type(document).load(cut(path, at))


def at_every_line(raw: bytes) -> list[int]:
    """After each line, and within each where a cell or a figure ends early."""
    ends = [index + 1 for index, byte in enumerate(raw) if byte == ord("\n")]
    return sorted({*ends, *(end - 1 for end in ends), *(end - 2 for end in ends), *(end - 4 for end in ends)} - {len(raw)})


def read(kind: type[Document], path: Path) -> Document | None:
    """What a file says, None where it is refused."""
    try:
        return kind.load(path)
    except DocumentError as error:
        assert error.faults  # noqa: PT017 - no two cuts are refused for the same reason
        return None


@pytest.mark.parametrize("document", [QUAY, SHELF, NETWORK, CATALOG, demo_policy(), plan()], ids=lambda document: document.what)
def test_yaml_cut_at_any_line_is_refused_or_says_the_same(document: Document, tmp_path: Path) -> None:
    document.save(tmp_path / "it.yaml")
    found = [read(type(document), cut(tmp_path / "it.yaml", at)) for at in at_every_line((tmp_path / "it.yaml").read_bytes())]
    assert [each for each in found if each is not None and each != document] == []
    assert found[-1] == document  # all but the end of the last line
    assert found.count(None) >= len(found) - 2


@pytest.mark.parametrize(
    ("document", "table"),
    [
        *((QUAY, table) for table in ("network", "devices", "links", "panels", "ports", "runs", "sites")),
        *((SHELF, table) for table in ("catalog", "modules", "cords")),
    ],
    ids=lambda value: value if isinstance(value, str) else value.what,
)
def test_table_cut_at_any_byte_is_refused_or_says_the_same(document: Document, table: str, tmp_path: Path) -> None:
    document.save(tmp_path / "it")
    path = tmp_path / "it" / f"{table}.csv"
    whole = path.read_bytes()
    found = []
    for at in sorted({*places(len(whole), table), *at_every_line(whole), whole.index(b"\n") - 3}):
        path.write_bytes(whole[:at])
        found.append(read(type(document), tmp_path / "it"))
    assert [each for each in found if each is not None and each != document] == []
    assert found[-1] == document
    assert found.count(None) >= len(found) - 2


HAND_MADE = {
    "no mark and no end of the last line": b"part,form,rates\nA,SFP,1G\nB,SFP,1G",
    "a list without rows": b"part,form,rates\n",
    "rows added after ours": b"part,form,rates,last_row\r\nA,SFP,1G,yes\r\nB,SFP,1G,\r\nC,SFP,1G\r\n",
    "our rows in another order": b"part,last_row,form,rates\r\nB,YES,SFP,1G\r\nA,,SFP,1G\r\n",
}


@pytest.mark.parametrize("content", HAND_MADE.values(), ids=HAND_MADE)
def test_table_that_was_written_or_changed_by_hand_is_read(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "catalog.csv").write_text("name\nShelf\n", encoding="utf-8")
    (tmp_path / "modules.csv").write_bytes(content)
    parts = [module.part for module in Catalog.load(tmp_path).modules]
    assert sorted(parts) == sorted(line.split(b",")[0].decode() for line in content.splitlines()[1:])


CUT_TABLES = {
    "to nothing": (b"", "modules.csv ends before its first row: the file was cut off; take out the file of a list that has no rows"),
    "in its header": (b"part,for", "modules.csv ends before its first row: the file was cut off; take out the file of a list that has no rows"),
    "after its header": (b"part,form,last_row\r\n", "modules.csv: the row with 'yes' in column last_row is missing: the file was cut off"),
    "in its last row": (b"part,form,last_row\r\nA,SFP,\r\nB,SFP,ye", "if you took that row out, do so with the column"),
}


@pytest.mark.parametrize(("content", "told"), CUT_TABLES.values(), ids=CUT_TABLES)
def test_table_that_was_cut_is_told_so(content: bytes, told: str, tmp_path: Path) -> None:
    (tmp_path / "modules.csv").write_bytes(content)
    with pytest.raises(DocumentError, match=re.escape(told)):
        Catalog.load(tmp_path)


@pytest.mark.parametrize("document", [QUAY, SHELF, NETWORK, CATALOG], ids=lambda document: document.name)
def test_folder_from_which_a_file_is_missing_is_refused_and_the_file_named(document: Document, tmp_path: Path) -> None:
    document.save(tmp_path / "it")
    for path in sorted((tmp_path / "it").iterdir()):
        held = path.read_bytes()
        path.unlink()
        with pytest.raises(DocumentError, match=re.escape(f"it: {path.name} is missing")):
            type(document).load(tmp_path / "it")
        path.write_bytes(held)
    assert type(document).load(tmp_path / "it") == document


def test_several_missing_files_are_told_at_once_with_what_to_do(tmp_path: Path) -> None:
    SHELF.save(tmp_path / "it")
    for name in ("modules.csv", "cords.csv"):
        (tmp_path / "it" / name).unlink()
    with pytest.raises(DocumentError) as refused:
        Catalog.load(tmp_path / "it")
    told = "modules.csv, cords.csv are missing: catalog.csv names them in column tables; put them back, or take them out of that column"
    assert [str(fault) for fault in refused.value.faults] == [f"it: {told}"]


OURS = b"part,form,last_row\r\nA,SFP,yes\r\n"
CHANGED_BY_HAND = {
    "a list taken out with its name": {"catalog.csv": b"tables,name,last_row\r\n modules ; ,Shelf,yes\r\n", "modules.csv": OURS},
    "a list added without its name": {"catalog.csv": b"name,tables,last_row\r\nShelf,,yes\r\n", "modules.csv": OURS},
    "no column of tables": {"catalog.csv": b"name\r\nShelf\r\n", "modules.csv": OURS},
    "no single values and no marks": {"modules.csv": b"part,form\r\nA,SFP\r\n"},
}


@pytest.mark.parametrize("files", CHANGED_BY_HAND.values(), ids=CHANGED_BY_HAND)
def test_folder_that_was_written_or_changed_by_hand_is_read(files: dict[str, bytes], tmp_path: Path) -> None:
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    assert [module.part for module in Catalog.load(tmp_path).modules] == ["A"]


def test_yaml_that_was_cut_is_told_so_and_one_without_our_first_line_is_read_as_it_is(tmp_path: Path) -> None:
    CATALOG.save(tmp_path / "it.yaml")
    first, *lines = (tmp_path / "it.yaml").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "it.yaml").write_text("".join([first, *lines[:-1]]), encoding="utf-8")
    with pytest.raises(DocumentError, match=r'the last line, "\.\.\.", is missing: the file was cut off'):
        Catalog.load(tmp_path / "it.yaml")
    (tmp_path / "it.yaml").write_text("".join(lines[:-1]), encoding="utf-8")
    assert Catalog.load(tmp_path / "it.yaml") == CATALOG


def test_plan_without_its_hashes_is_told_that_it_was_cut(tmp_path: Path) -> None:
    plan().save(tmp_path / "it.yaml")
    lines = (tmp_path / "it.yaml").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "it.yaml").write_text("".join(lines[1 : lines.index("parts:\n")]), encoding="utf-8")
    with pytest.raises(DocumentError, match="the file was cut off; plan again"):
        type(plan()).load(tmp_path / "it.yaml")
