"""Files that were made to do harm, or were broken on the way: only faults come out, and quickly."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiselect.errors import DocumentError, OptiselectError
from optiselect.model.network import Network

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
ALIAS_BOMB = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30))


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("bomb.yaml", ALIAS_BOMB, "anchors and aliases"),
        ("deep.yaml", "[" * 40 + "]" * 40, "nested deeper than 32"),
        ("deeper.yaml", "[" * 200_000, "not YAML"),
        ("block.yaml", "- " * 200_000, "deeper than 32"),
        ("deep.json", "[" * 200_000, "nested deeper than 32"),
        ("digits.json", '{"name": ' + "9" * 100_000 + "}", "too long"),
    ],
)
def test_hostile_file_is_refused_within_its_memory(name: str, text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")
    run = subprocess.run([sys.executable, "-c", WITHIN_512_MB, str(tmp_path / name)], capture_output=True, text=True, timeout=60, check=True)
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


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at=st.integers(0, len(PIER) - 1),
    cut=st.integers(0, 12),
    put=st.binary(max_size=6) | st.sampled_from([b"[", b"{", b"&a ", b"*a", b"!!x ", b"- ", b"1e999", b"\n"]),
)
def test_mutated_file_raises_only_our_errors(at: int, cut: int, put: bytes, tmp_path: Path) -> None:
    (tmp_path / "it.yaml").write_bytes(PIER[:at] + put + PIER[at + cut :])
    with contextlib.suppress(OptiselectError):
        assert isinstance(Network.load(tmp_path / "it.yaml"), Network)
