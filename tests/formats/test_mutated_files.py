"""Files that were changed at random: only faults come out, and what is read all the same can be kept.

About 300 examples in all; the mutations of typed documents, in another file of these tests, read their faults as well.
"""

from __future__ import annotations

import contextlib
import io
import zipfile
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiselect.demo import demo_policy
from optiselect.errors import OptiselectError
from optiselect.model.document import Document
from tests.formats.quay import QUAY, SHELF
from tests.handover.pier import NETWORK, plan

DOCUMENTS: dict[str, Document] = {"quay": QUAY, "shelf": SHELF, "pier": NETWORK, "policy": demo_policy(), "plan": plan()}
TABLED = ["quay", "shelf", "pier"]

SNIPPETS = [
    *(b"[", b"]", b"{", b"}", b"&a ", b"*a", b"!!x ", b"- ", b"? ", b"<<: ", b"|\n", b"#", b"%", b"\n", b"\t", b"\r", b"\r\n", b"\x00", b"\x07", b"\x85"),
    *(b"1e999", b"-0", b"NaN", b"null", b"true", b"0", b"-1", b"9" * 30, b"1e-400", b'"', b'""', b"'", b",", b";", b"=", b" to ", b"="),
    *(
        b"\xff",
        b"\xef\xbb\xbf",
        b"\xe2\x80\xa8",
        b"\xed\xa0\x80",
        b"\\ud800",
        b"&#0;",
        b"<c>",
        b"</row>",
        b'r="ZZ9"',
        b't="e"',
        b"_x0007_",
        b"__class__",
        b"a/b",
    ),
]
EDITS = st.lists(st.tuples(st.floats(0, 1), st.integers(0, 12), st.sampled_from(SNIPPETS) | st.binary(max_size=6)), min_size=1, max_size=3)
Edits = list[tuple[float, int, bytes]]


def edited(raw: bytes, edits: Edits) -> bytes:
    for where, cut, put in edits:
        at = int(where * len(raw))
        raw = raw[:at] + put + raw[at + cut :]
    return raw


@cache
def saved(name: str, file: str) -> dict[str, bytes]:
    """The files of a document as it is saved, by name."""
    with TemporaryDirectory() as folder:
        DOCUMENTS[name].save(Path(folder) / file)
        whole = Path(folder) / file
        return {path.name: path.read_bytes() for path in (sorted(whole.iterdir()) if whole.is_dir() else [whole])}


def read_and_kept(document: Document, path: Path) -> None:
    """Read a file; unless it is refused with a fault, what was read is saved and reads back equal."""
    with contextlib.suppress(OptiselectError):
        read = type(document).load(path)
        again = path.with_name(f"again{path.suffix}")
        read.save(again)
        assert type(document).load(again) == read


@pytest.mark.parametrize("file", ["it.yaml", "it.json"])
@settings(max_examples=80, deadline=None)
@given(name=st.sampled_from(sorted(DOCUMENTS)), edits=EDITS)
def test_mutated_text_raises_only_our_errors(file: str, name: str, edits: Edits) -> None:
    with TemporaryDirectory() as folder:
        (Path(folder) / file).write_bytes(edited(saved(name, file)[file], edits))
        read_and_kept(DOCUMENTS[name], Path(folder) / file)


@settings(max_examples=80, deadline=None)
@given(data=st.data(), name=st.sampled_from(TABLED), edits=EDITS)
def test_mutated_folder_raises_only_our_errors(data: st.DataObject, name: str, edits: Edits) -> None:
    tables = saved(name, "it")
    broken = data.draw(st.sampled_from(sorted(tables)))
    with TemporaryDirectory() as folder:
        (Path(folder) / "it").mkdir()
        for table, raw in tables.items():
            (Path(folder) / "it" / table).write_bytes(edited(raw, edits) if table == broken else raw)
        read_and_kept(DOCUMENTS[name], Path(folder) / "it")


@settings(max_examples=60, deadline=None)
@given(data=st.data(), name=st.sampled_from(TABLED), edits=EDITS)
def test_workbook_with_a_mutated_part_raises_only_our_errors(data: st.DataObject, name: str, edits: Edits) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(saved(name, "it.xlsx")["it.xlsx"])) as sound, zipfile.ZipFile(packed, "w") as archive:
        broken = data.draw(st.sampled_from(sound.namelist()))
        for part in sound.namelist():
            archive.writestr(part, edited(sound.read(part), edits) if part == broken else sound.read(part))
    with TemporaryDirectory() as folder:
        (Path(folder) / "it.xlsx").write_bytes(packed.getvalue())
        read_and_kept(DOCUMENTS[name], Path(folder) / "it.xlsx")


@settings(max_examples=20, deadline=None)
@given(edits=EDITS)
def test_mutated_archive_raises_only_our_errors(edits: Edits) -> None:
    with TemporaryDirectory() as folder:
        (Path(folder) / "it.xlsx").write_bytes(edited(saved("pier", "it.xlsx")["it.xlsx"], edits))
        read_and_kept(NETWORK, Path(folder) / "it.xlsx")
