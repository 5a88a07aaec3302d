"""What stops at the door of each reader: no such file, none of its kind, too large, not what its name says."""

from __future__ import annotations

import io
import os
import struct
import zipfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from optiselect.demo import demo_policy
from optiselect.errors import DocumentError
from optiselect.formats import archive, eeprom, limits, reading, workbooks, writing
from optiselect.formats.eeprom import read_folder, read_memory
from optiselect.formats.limits import Refused
from optiselect.formats.units import Unit
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from tests.formats.invented_memory import qsfp, sfp
from tests.formats.quay import QUAY
from tests.handover.pier import plan

SMALL = 64


def workbook(content: bytes, name: str = "xl/workbook.xml") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr(name, content)
    return out.getvalue()


def overstated(raw: bytes) -> bytes:
    """The directory of an archive says that its only part is a byte longer than it is."""
    at = raw.index(b"PK\x01\x02") + 24
    (size,) = struct.unpack_from("<I", raw, at)
    return raw[:at] + struct.pack("<I", size + 1) + raw[at + 4 :]


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"not a zip", "not a workbook"),
        (workbook(b"<workbook><sheet>"), "not a workbook: no element found"),
        (overstated(workbook(b"<workbook/>")), "a part of the workbook is not of the size that it states"),
    ],
)
def test_archive_that_is_no_workbook_is_refused(raw: bytes, told: str) -> None:
    with pytest.raises(Refused, match=told):
        archive.checked_workbook(raw)


def test_archive_that_unpacks_to_more_than_it_states_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = workbook(b"<a>" + b" " * 1000 + b"</a>")
    at = raw.index(b"PK\x01\x02") + 24
    monkeypatch.setattr(archive, "MAX_BYTES", 500)
    with pytest.raises(Refused, match="unpack"):
        archive.checked_workbook(raw[:at] + struct.pack("<I", 10) + raw[at + 4 :])


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("missing.yaml", "cannot be read: No such file or directory"),
        ("a\0b.yaml", "cannot be read: "),
        ("a" * 300 + ".yaml", "cannot be read: .*File name too long"),
        ("notes.txt", r"a network is read from \.yaml, \.yml or \.json, from \.xlsx or a folder of CSV, not '\.txt'"),
    ],
)
def test_name_that_holds_no_document_is_told(name: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("a", encoding="utf-8")
    with pytest.raises(DocumentError, match=told):
        Network.load(tmp_path / name)


def test_policy_is_neither_read_from_tables_nor_written_to_any_other_file(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("a", encoding="utf-8")
    with pytest.raises(DocumentError, match=r"a policy is read from \.yaml, \.yml or \.json, not '\.txt'"):
        Policy.load(tmp_path / "notes.txt")
    with pytest.raises(DocumentError, match=r"a policy is written to \.yaml, \.yml or \.json, not '\.txt'"):
        demo_policy().save(tmp_path / "notes.txt")


@pytest.mark.parametrize("suffix", [".yaml", ".xlsx"])
def test_file_that_cannot_be_opened_or_is_too_large_is_told(suffix: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / f"it{suffix}"
    QUAY.save(path)
    for module in (reading, workbooks):
        monkeypatch.setattr(module, "MAX_BYTES", SMALL)
    with pytest.raises(DocumentError, match="larger than 0 MB"):
        Network.load(path)
    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(DocumentError, match="cannot be read: Permission denied"):
        Network.load(path)


def denied(*_: Any, **__: Any) -> Any:
    raise PermissionError(13, "Permission denied")


def test_folder_that_cannot_be_listed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "iterdir", denied)
    with pytest.raises(DocumentError, match="cannot be read: Permission denied"):
        Network.load(tmp_path)


def test_interrupt_while_a_workbook_is_read_is_no_fault_of_the_workbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import python_calamine

    class Interrupted:
        @staticmethod
        def from_filelike(_: object) -> None:
            raise KeyboardInterrupt

    QUAY.save(tmp_path / "it.xlsx")
    monkeypatch.setattr(python_calamine, "CalamineWorkbook", Interrupted)
    with pytest.raises(KeyboardInterrupt):
        Network.load(tmp_path / "it.xlsx")


def test_yes_and_no_of_a_plan_are_read_by_the_grammar_of_json(tmp_path: Path) -> None:
    plan().model_copy(update={"reproducible": False}).save(tmp_path / "it.yaml")
    assert Plan.load(tmp_path / "it.yaml").reproducible is False


def test_cells_without_a_name_and_without_text_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "network.csv").write_text("name,,\nPier,,\n", encoding="utf-8")
    (tmp_path / "devices.csv").write_text("id,,name\na,,Core\n", encoding="utf-8")
    network = Network.load(tmp_path)
    assert (network.name, network.devices[0].name) == ("Pier", "Core")


def test_figure_beyond_every_number_is_not_converted() -> None:
    kilometers = Unit("_km", "_m", Fraction(1000), "exact")
    assert kilometers.converted("9e999") is None
    assert kilometers.converted("1.5") == "1500.0"


def test_network_without_links_has_none_in_its_graph_either() -> None:
    bare = Network(devices=[{"id": "a"}])
    assert "links" not in bare.to_graph().graph
    assert Network.from_graph(bare.to_graph()) == bare


def test_new_table_is_taken_away_again_where_a_later_one_cannot_be_put_in_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "links.csv").write_bytes(b"old")
    real = os.replace

    def replace(source: Path, target: Path) -> None:
        if Path(target).name == "links.csv" and Path(source).suffix == ".part":
            denied()
        real(source, target)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(PermissionError):
        writing.write_together(tmp_path, {"devices.csv": b"new", "links.csv": b"new"})
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"links.csv": b"old"}


# Module memory


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", "the file is empty"),
        (b"0x00:\n", "the file is empty"),
        (b"\xff\xfe\x00", "identifier|module"),  # half a character of UTF-16
        (b"0x20: " + " ".join(f"{byte:02x}" for byte in qsfp()[:16]).encode(), "begins at offset 0x20"),
    ],
)
def test_dump_that_is_no_memory_is_refused(raw: bytes, told: str) -> None:
    with pytest.raises(DocumentError, match=told):
        read_memory(raw)


def test_first_memory_of_two_is_not_longer_than_its_standard_lays_out() -> None:
    lines = [f"0x{at:03x}: {' '.join(f'{byte:02x}' for byte in (sfp() + bytes(512))[at : at + 16])}" for at in range(0, 272, 16)]
    with pytest.raises(DocumentError, match="the first memory of the dump is 272 bytes long, and A0h has 256"):
        read_memory("\n".join([*lines, *lines[:2]]).encode())


def test_page_that_ends_before_its_extended_fields_says_so() -> None:
    assert "the dump ends before byte 224: the extended fields are not known" in read_memory(qsfp()[128:192]).unread


def test_dump_that_cannot_be_opened_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "core_1.bin").write_bytes(sfp())
    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(DocumentError, match="cannot be read: Permission denied"):
        read_memory(tmp_path / "core_1.bin")


def test_folder_is_synced_where_a_system_can(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[int] = []
    monkeypatch.setattr(os, "fsync", synced.append)
    writing._sync_folder(tmp_path)
    with monkeypatch.context() as patch:
        patch.setattr(os, "name", "nt")
        writing._sync_folder(tmp_path)
    assert len(synced) == 1


def test_text_of_too_many_values_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MAX_VALUES", 10)
    with pytest.raises(Refused, match="the file holds more than 10 values"):
        limits.check_size("1," * 11, ",")


def test_more_files_than_a_shelf_has_modules_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for number in range(3):
        (tmp_path / f"core_{number}.bin").write_bytes(sfp())
    monkeypatch.setattr(eeprom, "MAX_FILES", 2)
    with pytest.raises(DocumentError, match="the folder holds more than 2 files"):
        read_folder(tmp_path)
