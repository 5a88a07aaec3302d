"""Files that were made to do harm, or were broken on the way: only faults come out, and quickly."""

from __future__ import annotations

import re
import struct
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from optiselect.errors import DocumentError
from optiselect.model.network import Network
from tests.formats.quay import QUAY

pytest.importorskip("resource", reason="memory limits are a matter of POSIX")

PIER = b"""\
format: optiselect-network/1
name: Lantern pier
sites: [{id: office, ambient_c: [10, 30]}, {id: head, outdoor: true}]
devices:
  - {id: core, site: office, ports: [{ids: 1-4, kind: cage, form: SFP, rates: [1G]}]}
  - {id: cam, site: head, ports: [{id: up, kind: cage, form: SFP, rates: [1G]}]}
runs:
  - {id: F1, ends: [core, cam], fiber: {grade: OS2, length_m: 400, strands: 4}}
links:
  - {id: L1, ends: [core/1, cam], rate: 1G, over: [F1]}
"""
WITHIN_512_MB = """\
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (512 * 1024 * 1024,) * 2)
from optiselect.errors import DocumentError
from optiselect.model.network import Network
try:
    Network.load(sys.argv[1])
except DocumentError as error:
    print(error)
"""
CAGES = "kind: cage, form: SFP, rates: [1G]"
SAME_PORTS = f"devices: [{{id: a, ports: [{{ids: '{','.join(['0-4095'] * 2800)}', {CAGES}}}]}}]"
PREFIX = "p" * 19_000
LONG_PORTS = f"devices: [{{id: a, ports: [{', '.join(f'{{ids: {letter}{PREFIX}1-4000, {CAGES}}}' for letter in 'abcdefghijklmnopqrst')}]}}]"
LONG_KEY = f"? {'k' * 100_000}\n: {{a: [{'1, ' * 20_000}]}}"
MANY_PORTS = f"devices: [{', '.join(f'{{id: d{n}, ports: [{{ids: {n}-{n + 4095}, {CAGES}}}]}}' for n in range(3000))}]"
ALIAS_BOMB = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30))


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("bomb.yaml", ALIAS_BOMB, "anchors and aliases"),
        ("same.yaml", SAME_PORTS, "ids: more than 4096 ports"),
        ("many.yaml", MANY_PORTS, r"devices\[244\].ports: with these ports, the devices have more than 1000000"),
        ("long.yaml", LONG_PORTS, "ids: the names of these ports have more than 262144 characters together"),
        ("key.yaml", LONG_KEY, "unknown key"),
        ("key.json", '{"' + "k" * 100_000 + '": {"a": [' + "1, " * 20_000 + "1]}}", "unknown key"),
        ("dots.json", '{"' + "." * 100_000 + '": 1}', "unknown key"),
        ("deep.yaml", "[" * 40 + "]" * 40, "nested deeper than 32"),
        ("deeper.yaml", "[" * 200_000, "not YAML|nested deeper than 32"),
        ("block.yaml", "- " * 200_000, "deeper than 32"),
        ("deep.json", "[" * 200_000, "nested deeper than 32"),
        ("digits.json", '{"name": ' + "9" * 100_000 + "}", "too long"),
    ],
)
def test_hostile_file_is_refused_within_its_memory(name: str, text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    run = subprocess.run([sys.executable, "-c", WITHIN_512_MB, str(tmp_path / name)], capture_output=True, text=True, timeout=60, check=True)
    assert re.search(words, run.stdout)  # releases of PyYAML differ in how deep they go themselves


MEGABYTE = 1024 * 1024
CORNERS = b'<worksheet><sheetData><row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
DTD = f'<?xml version="1.0"?><!DOCTYPE sst [<!ENTITY l0 "ha">{LAUGHS}]><sst><si><t>&l9;</t></si></sst>'.encode()


def rewritten(target: Path, part: str, content: bytes, times: int = 1) -> None:
    """Save a sound workbook, then write it again with one part replaced by a content, so many times over."""
    QUAY.save(target.with_name("sound.xlsx"))
    with zipfile.ZipFile(target.with_name("sound.xlsx")) as sound, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in (name for name in sound.namelist() if name != part):
            archive.writestr(name, sound.read(name))
        with archive.open(part, "w", force_zip64=False) as file:
            for _ in range(times):
                file.write(content)


def of_300_mb(target: Path) -> None:
    rewritten(target, "xl/sharedStrings.xml", b" " * MEGABYTE, 300)


def of_300_mb_that_states_one(target: Path) -> None:
    of_300_mb(target)
    target.write_bytes(target.read_bytes().replace(struct.pack("<I", 300 * MEGABYTE), struct.pack("<I", MEGABYTE)))


def of_many_entries(target: Path) -> None:
    with zipfile.ZipFile(target, "w") as archive:
        for number in range(5000):
            archive.writestr(f"xl/worksheets/sheet{number}.xml", "<worksheet/>")


@pytest.mark.parametrize(
    ("write", "words"),
    [
        (of_300_mb, "unpacks to more than 64 MB"),
        (of_300_mb_that_states_one, "unpacks to more than 100 times its size"),
        (of_many_entries, "200 entries"),
        (lambda target: rewritten(target, "xl/sharedStrings.xml", DTD), "holds a DTD"),
        (lambda target: rewritten(target, "xl/workbook.xml", DTD.decode().encode("utf-16")), "holds a DTD"),
        (lambda target: rewritten(target, "xl/worksheets/sheet1.xml", CORNERS), "span more than 2000000 cells"),
        (lambda target: target.write_bytes(b"PK\x05\x06" + bytes(18)), "not a workbook"),
    ],
    ids=["300-mb", "300-mb-states-1", "entries", "dtd", "dtd-utf-16", "corners", "empty"],
)
def test_hostile_workbook_is_refused_within_its_memory(write: Callable[[Path], object], words: str, tmp_path: Path) -> None:
    write(tmp_path / "it.xlsx")
    run = subprocess.run([sys.executable, "-c", WITHIN_512_MB, str(tmp_path / "it.xlsx")], capture_output=True, text=True, timeout=60, check=True)
    assert words in run.stdout
    assert (tmp_path / "it.xlsx").stat().st_size < MEGABYTE


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("links.csv", b"id," * 3_000_000, "more than 2000000 cells"),
        ("links.csv", b"id\n" + b"x" * 1_000_000, "field larger than field limit"),
        ("sites.csv", b"id\n" + b"\n" * 3_000_000, "more than 2000000 cells"),
        ("ports.csv", b"," * 1_000_000 + b"device\n" + b"x\n" * 20_000, "there is no device ''"),
        ("sites.csv", b" " * 65 * MEGABYTE, "larger than 64 MB"),
        ("sites.csv", b'id\n"' + b"[" * 100_000 + b'"\n', "at most 20000 characters"),
        ("runs.csv", b'id,routes\nF1,"' + b"[" * 100_000 + b'"\n', "nested deeper than 32"),
    ],
    ids=["cells", "field", "rows", "columns", "bytes", "brackets", "deep"],
)
def test_hostile_folder_is_refused_within_its_memory(name: str, content: bytes, words: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(content)
    run = subprocess.run([sys.executable, "-c", WITHIN_512_MB, str(tmp_path)], capture_output=True, text=True, timeout=60, check=True)
    assert words in run.stdout


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00", b"name: \xe9\n", b"\x00", b"name: \x07\n", b"self: 1\n", b"? [a]\n: 1\n", b"a: 1\n---\nb: 1\n"])
def test_broken_file_is_a_fault(raw: bytes, tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_bytes(raw)
    with pytest.raises(DocumentError, match=r"it\.yaml"):
        Network.load(tmp_path / "it.yaml")


def test_pier_itself_is_read(tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_bytes(PIER)
    assert [link.id for link in Network.load(tmp_path / "it.yaml").wanted] == ["L1"]


@pytest.mark.parametrize("suffix", [".yaml", ".json"])
@pytest.mark.parametrize("name", ["no", "010", "1e3", "null", "12:30", "~", "a: b", "a #b", " x ", "true", "=", "<<", "two\nlines", "é", "- x", "\u2028"])
def test_text_is_saved_so_that_it_stays_text(name: str, suffix: str, tmp_path: Path) -> None:
    network = Network(name=name, devices=[{"id": name}])
    network.save(tmp_path / f"it{suffix}")
    assert Network.load(tmp_path / f"it{suffix}") == network
