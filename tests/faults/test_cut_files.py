"""A file that ends too early, at any place: what shows that it was cut is refused; the rest holds nothing that was not in the whole file."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from optiselect.demo import demo_policy
from optiselect.errors import DocumentError
from optiselect.model.document import Document
from optiselect.model.network import Network
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
        (plan(), ".yaml"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.what,
)
def test_cut_file_is_refused(document: Document, suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"it{suffix}"
    document.save(path)
    for at in places(path.stat().st_size, suffix):
        with pytest.raises(DocumentError):
            type(document).load(cut(path, at))


def test_plan_that_was_cut_between_two_lines_is_told_so(tmp_path: Path) -> None:
    plan().save(tmp_path / "it.yaml")
    lines = (tmp_path / "it.yaml").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "it.yaml").write_text("".join(lines[: lines.index("parts:\n")]), encoding="utf-8")
    with pytest.raises(DocumentError, match="the file was cut off; plan again"):
        type(plan()).load(tmp_path / "it.yaml")


def read_all_the_same(document: Document, path: Path) -> list[Document]:
    """What is read of a file cut between any two of its lines."""
    raw = path.read_bytes()
    found = []
    for at in [index + 1 for index, byte in enumerate(raw[:-1]) if byte == ord("\n")]:
        try:
            found.append(type(document).load(cut(path, at)))
        except DocumentError as error:
            assert error.faults  # noqa: PT017 - most cuts are refused, and no two for the same reason
    return found


@pytest.mark.parametrize(("document", "key"), [(NETWORK, "runs"), (QUAY, "runs"), (CATALOG, "modules"), (SHELF, "modules")], ids=lambda value: str(value)[:8])
def test_cut_yaml_holds_nothing_that_was_not_in_the_whole(document: Document, key: str, tmp_path: Path) -> None:
    document.save(tmp_path / "it.yaml")
    short = read_all_the_same(document, tmp_path / "it.yaml")
    ids = {repr(getattr(item, "id", None) or item.part) for item in getattr(document, key)}
    assert short
    assert all({repr(getattr(item, "id", None) or item.part) for item in getattr(read, key)} <= ids for read in short)


@pytest.mark.parametrize("table", ["devices", "links", "panels", "ports", "runs", "sites"])
def test_cut_table_of_a_folder_raises_only_our_errors(table: str, tmp_path: Path) -> None:
    QUAY.save(tmp_path / "it")
    whole = (tmp_path / "it" / f"{table}.csv").read_bytes()
    outcomes = set()
    for at in places(len(whole), table):
        (tmp_path / "it" / f"{table}.csv").write_bytes(whole[:at])
        outcomes.add(outcome(tmp_path / "it"))
    assert outcomes <= {"refused", "read"}
    assert "refused" in outcomes


def outcome(folder: Path) -> str:
    try:
        Network.load(folder)
    except DocumentError:
        return "refused"
    return "read"
