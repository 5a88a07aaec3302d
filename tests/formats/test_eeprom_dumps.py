"""Dumps of module memory: every layout reads back the same bytes; what is broken or hostile is one clear fault, and quickly."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiselect.errors import DocumentError, OptiselectError
from optiselect.formats.eeprom import file_name_of, read_folder, read_memory
from optiselect.formats.eeprom_text import MAX_MEMORY, dump_of
from optiselect.model.catalog import Module
from tests.formats.dumps import LAYOUTS, behind_0x, behind_short, between_bars, between_bars_squeezed, pairs
from tests.formats.invented_memory import Bytes, qsfp, sfp

LOOKS_LIKE_TEXT = st.sampled_from([bytes(16), b"\xff" * 16, b"AB CD 00 12  3|4", b"0x03: 12 * - | *"])
MEMORIES = st.binary(min_size=1, max_size=MAX_MEMORY) | st.lists(LOOKS_LIKE_TEXT, min_size=1, max_size=40).map(b"".join)
Layout = Callable[[bytes], str]


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(max_examples=60, deadline=None)
@given(memory=MEMORIES)
def test_any_bytes_read_back_equal_from_every_layout(layout: Layout, memory: bytes) -> None:
    """A memory that is printed and read is the memory."""
    assert dump_of(layout(memory).encode()).data == memory


@pytest.mark.parametrize("memory", [sfp(), qsfp()], ids=["sfp", "qsfp"])
@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_one_module_comes_out_of_every_layout_and_encoding(layout: Layout, encoding: str, memory: bytes) -> None:
    assert Module.from_memory(layout(memory).replace("\n", "\r\n").encode(encoding)) == Module.from_memory(memory)


def test_two_dumps_in_one_file_are_a0h_and_a2h() -> None:
    text = behind_short(sfp()[:256]) + behind_short(sfp()[256:])

    assert read_memory(text.encode()) == read_memory(sfp())


def test_dump_of_the_upper_page_alone_begins_at_its_offset() -> None:
    upper = "".join(line + "\n" for line in behind_0x(qsfp()[:256]).splitlines()[2:] if line >= "0x0080")

    assert read_memory(upper.encode()) == read_memory(qsfp()[128:256])


SERIAL_LINE = "0x0040: 00 1a 00 00 47 57 53 45 52 49 41 4c 30 30 34 32\n"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (b"the module in port 3", "no byte in hex"),
        (b"03 04 0", "no byte in hex"),
        (b"0x0000: 03 04 XX 07", "no byte in hex"),
        (sfp()[:63], "ends after 63 bytes"),
        (qsfp()[128:190], "ends after 62 bytes"),
        (sfp() + bytes(1), "513 bytes long"),
        (qsfp() + bytes(1), "641 bytes long"),
        (pairs(bytes(700)).encode(), "longer than the 640 bytes"),
        (bytes(256), "nothing is plugged in"),
        (b"\xff" * 256, "nothing is plugged in"),
        (b"\x18" + bytes(255), "identifier 0x18 is QSFP-DD; this reads SFP"),
        (b"\x77" + bytes(255), "of no module that is known"),
        (qsfp()[:128] + bytes(128), "byte 128 is to repeat the identifier"),
        (SERIAL_LINE.encode(), "begins at offset 0x40"),
        (behind_0x(sfp()).replace("0x0020:", "0x0030:", 1).encode(), "offset 0x0020 is due here, and the line has 0x0030"),
        ((behind_0x(sfp()) + "03 04\n").encode(), "no offset, and others have"),
        (b"00000000  03 04 07 10 00 00 00 00  00 00 00 06 67 00 00 00\n*\n", "nothing says how often"),
        (b"*\n00000010  03 04\n", "repeats stands first"),
        (b"00000000  03 04 07 10 00 00 00 00  00 00 00 06 67 00 00 00\n*\nfffffff0\n", "beyond the 640 bytes"),
        (b"0000000 0403 1007 0000 0000\n", "words of several bytes"),
        (b"0x0000: 03 04 07 10 00 00 00 00 00 00 00 06 67 00 00 00 08\n", "more than 16 bytes"),
        ((behind_short(sfp()[:256]) * 3).encode(), "more than once"),
        ((behind_short(qsfp()[:128]) * 2).encode(), "one after another"),
        (b"03 " * 40_000, "larger than 64 KB"),
    ],
)
def test_what_is_no_dump_is_one_clear_fault(raw: bytes, words: str) -> None:
    with pytest.raises(DocumentError, match=words) as error:
        read_memory(raw)

    assert len(error.value.faults) == 1


def test_fault_names_file_and_line_and_repeats_nothing_of_it(tmp_path: Path) -> None:
    (tmp_path / "core__1.hex").write_text(behind_0x(sfp()[:64]) + SERIAL_LINE.replace("47", "4G"), encoding="ascii")

    with pytest.raises(DocumentError) as error:
        read_memory(tmp_path / "core__1.hex")
    assert str(error.value) == "module memory: 1 fault\n  core__1.hex:7: this line holds something that is no byte in hex"


def part_or_fault(memory: bytes) -> str:
    try:
        return Module.from_memory(memory).part
    except OptiselectError as error:
        return str(error)


TELLING = st.sampled_from([0, 1, 0x10, 0x21, 0x22, 0x40, 0x80, 0xFF]) | st.integers(0, 255)


@settings(max_examples=120, deadline=None)
@given(kind=st.sampled_from([sfp, qsfp]), changes=st.dictionaries(st.integers(1, 511), TELLING, max_size=20))
def test_changed_memory_with_its_check_codes_made_good_is_a_module_or_a_fault_of_ours(kind: Callable[[Bytes], bytes], changes: dict[int, int]) -> None:
    """Whatever the fields say, a catalog takes the module that comes out."""
    assert part_or_fault(kind(changes))


@settings(max_examples=150, deadline=None)
@given(base=st.sampled_from([sfp(), qsfp()]), at=st.integers(0, 511), byte=st.integers(0, 255))
def test_memory_with_one_changed_byte_is_a_module_or_a_fault_of_ours(base: bytes, at: int, byte: int) -> None:
    """A byte that no check code covers, or the same byte, leaves a module; any other one is a DocumentError."""
    assert part_or_fault(base[:at] + bytes([byte]) + base[at + 1 :])


@settings(max_examples=150, deadline=None)
@given(
    raw=st.binary(max_size=700)
    | st.text("0123456789abcdefx:|*. \n", max_size=700).map(str.encode)
    | st.binary(min_size=64, max_size=640).map(lambda it: b"\x03" + it)
)
def test_random_bytes_are_a_fault_of_ours(raw: bytes) -> None:
    """Whatever the bytes, nothing but our errors comes out; a check code that agrees by chance may let one through."""
    assert part_or_fault(raw)


def test_file_of_300_mb_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "core__1.bin"
    with path.open("wb") as file:
        file.truncate(300 * 1024 * 1024)
    began = time.perf_counter()

    with pytest.raises(DocumentError, match=r"core__1\.bin: larger than 64 KB"):
        read_memory(path)
    assert time.perf_counter() - began < 2


# -- a folder of dumps --------------------------------------------------------------------------------------------------


def test_folder_names_the_ports(tmp_path: Path) -> None:
    (tmp_path / "core__1.hex").write_text(between_bars(sfp()), encoding="ascii")
    (tmp_path / "gate-sw__u1.txt").write_text(between_bars_squeezed(sfp()), encoding="ascii")
    (tmp_path / "core__25.bin").write_bytes(qsfp())
    (tmp_path / ".hidden").write_text("not ours", encoding="ascii")

    assert {port: memory.part for port, memory in read_folder(tmp_path).items()} == {"core/1": "GW-10SR", "core/25": "GW-40LR4", "gate-sw/u1": "GW-10SR"}


@pytest.mark.parametrize("port", ["core/1", "a__b/c_d", "../..", "Größe 1/x:y", ".hidden/1", "a%2Fb/%", "_/_", "c\\d/e\tf"])
def test_any_port_has_a_file_name_that_reads_back(port: str, tmp_path: Path) -> None:
    (tmp_path / file_name_of(port)).write_bytes(sfp())

    assert list(read_folder(tmp_path)) == [port]


@pytest.mark.parametrize("name", ["core1.hex", "core__1", "core__1.pdf", "a__b__c.hex", "__1.hex", "core__.hex", "core__%FF.hex", "a%2Fb__1.hex"])
def test_name_that_is_no_port_is_a_fault(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(sfp())

    with pytest.raises(DocumentError) as error:
        read_folder(tmp_path)
    assert [fault.place for fault in error.value.faults] == [name]


def test_link_folder_and_pipe_are_not_followed(tmp_path: Path) -> None:
    (tmp_path / "secret").write_bytes(sfp())
    folder = tmp_path / "dumps"
    folder.mkdir()
    (folder / "core__1.hex").symlink_to(tmp_path / "secret")
    (folder / "core__2.hex").mkdir()
    os.mkfifo(folder / "core__3.hex")

    with pytest.raises(DocumentError) as error:
        read_folder(folder)
    assert [(fault.place, "not read" in fault.message) for fault in error.value.faults] == [(f"core__{number}.hex", True) for number in (1, 2, 3)]


def test_faults_of_all_files_come_at_once(tmp_path: Path) -> None:
    (tmp_path / "core__1.hex").write_text("nothing", encoding="ascii")
    (tmp_path / "core__2.bin").write_bytes(sfp())
    (tmp_path / "core__2.hex").write_text(pairs(sfp()), encoding="ascii")
    (tmp_path / "notes.md").write_text("of the visit", encoding="ascii")

    with pytest.raises(DocumentError) as error:
        read_folder(tmp_path)
    assert [fault.place.partition(":")[0] for fault in error.value.faults] == ["core__1.hex", "core__2.hex", "notes.md"]


@pytest.mark.parametrize("missing", [True, False])
def test_folder_without_dumps_is_a_fault(missing: bool, tmp_path: Path) -> None:
    with pytest.raises(DocumentError, match="cannot be read" if missing else "holds no dump"):
        read_folder(tmp_path / "nowhere" if missing else tmp_path)
