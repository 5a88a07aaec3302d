"""A save that is killed, runs out of disk or is not allowed leaves the old document or the new one, and nothing between."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

pytest.importorskip("resource", reason="kills and limits are a matter of POSIX")

from tests.faults.saving import PAIRS, PROCESSES, ended, hand_over_within, read, save_and_die_at, save_as_nobody, save_for_ever, save_within

FILES = [(kind, suffix) for kind in PAIRS for suffix in (".yaml", ".json", ".xlsx") if suffix != ".xlsx" or kind != "plan"]
FOLDERS = [kind for kind in PAIRS if kind != "plan"]
KILLS = 56
"""In all, over every kind and suffix."""


def started(kind: str, path: Path) -> None:
    """Put the old document in place."""
    PAIRS[kind][0].save(path)


@pytest.mark.parametrize(("kind", "suffix"), FILES)
def test_kill_at_any_moment_leaves_the_old_or_the_new_document(kind: str, suffix: str, tmp_path: Path) -> None:
    draw = Random(f"{kind} {suffix}")
    path = tmp_path / f"it{suffix}"
    started(kind, path)
    for _ in range(KILLS // len(FILES)):
        child = PROCESSES.Process(target=save_for_ever, args=(kind, path))
        child.start()
        time.sleep(draw.uniform(0.02, 0.12))
        child.kill()
        child.join()
        assert read(kind, path) in PAIRS[kind]


@pytest.mark.parametrize(("kind", "suffix"), FILES)
def test_kill_at_every_step_leaves_the_old_or_the_new_document(kind: str, suffix: str, tmp_path: Path) -> None:
    path = tmp_path / f"it{suffix}"
    found = []
    for step in range(60):
        started(kind, path)
        if ended(save_and_die_at, step, kind, path) == "saved":
            break
        found.append(PAIRS[kind].index(read(kind, path)))
    assert found == sorted(found), "the new document was there, and then the old one again"
    assert {*found} == {0, 1}


@pytest.mark.parametrize("kind", FOLDERS)
def test_kill_at_every_step_leaves_each_table_of_a_folder_old_or_new(kind: str, tmp_path: Path) -> None:
    old, new = (tmp_path / "old", tmp_path / "new")
    PAIRS[kind][0].save(old)
    PAIRS[kind][1].save(new)
    either = {name: [folder.joinpath(name).read_bytes() if folder.joinpath(name).exists() else None for folder in (old, new)] for name in tables(old, new)}
    steps = 0
    for steps in range(0, 600, 5):
        shutil.rmtree(tmp_path / "it", ignore_errors=True)
        shutil.copytree(old, tmp_path / "it")
        if ended(save_and_die_at, steps, kind, tmp_path / "it") == "saved":
            break
        assert all(content in either[name] for name, content in contents(tmp_path / "it").items())
    assert steps > 50


@pytest.mark.parametrize("kind", FOLDERS)
def test_kill_at_every_step_leaves_a_new_folder_whole_or_not_there(kind: str, tmp_path: Path) -> None:
    PAIRS[kind][1].save(tmp_path / "whole")
    steps = 0
    for steps in range(0, 600, 5):
        shutil.rmtree(tmp_path / "it", ignore_errors=True)
        if ended(save_and_die_at, steps, kind, tmp_path / "it") == "saved":
            break
        assert not (tmp_path / "it").exists() or contents(tmp_path / "it") == contents(tmp_path / "whole")
    assert steps > 50


def tables(*folders: Path) -> set[str]:
    return {path.name for folder in folders for path in folder.glob("*.csv")}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.csv")}


@pytest.mark.parametrize("most", [0, 1, 100])
@pytest.mark.parametrize(("kind", "suffix"), [*FILES, *((kind, "") for kind in FOLDERS)])
def test_disk_that_is_full_leaves_the_old_document_and_no_litter(kind: str, suffix: str, most: int, tmp_path: Path) -> None:
    path = tmp_path / f"it{suffix}"
    started(kind, path)
    before = sorted(tmp_path.rglob("*"))
    told = ended(save_within, most, kind, path)
    assert (told == "saved", "cannot be written: File too large" in told) in [(False, True)]
    assert read(kind, path) == PAIRS[kind][0]
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("most", [0, 1000, 20_000])
def test_papers_on_a_full_disk_are_refused_in_words(most: int, tmp_path: Path) -> None:
    assert "File too large" in ended(hand_over_within, most, tmp_path / "papers")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 8 KB."""
    if os.geteuid() or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8k", "none", tmp_path], capture_output=True, check=False).returncode:
        pytest.skip("no disk may be mounted here; the limit on the size of a file stands in for it")
    try:
        yield tmp_path
    finally:
        subprocess.run(["umount", tmp_path], check=True)


def test_disk_without_room_for_both_leaves_the_old_document(small_disk: Path) -> None:
    path = small_disk / "it.json"
    started("plan", path)
    assert "cannot be written: No space left on device" in ended(save_within, 1 << 20, "plan", path)
    assert read("plan", path) == PAIRS["plan"][0]
    assert list(small_disk.iterdir()) == [path]


@pytest.mark.parametrize(("kind", "suffix"), [*FILES, *((kind, "") for kind in FOLDERS)])
def test_folder_that_is_read_only_is_refused_in_words(kind: str, suffix: str) -> None:
    with TemporaryDirectory(prefix="read-only-") as name:
        folder = Path(name)
        path = folder / f"it{suffix}"
        started(kind, path)
        folder.chmod(0o555)
        path.chmod(0o555)
        told = ended(save_as_nobody, kind, path)
        folder.chmod(0o755)
        path.chmod(0o755)
        assert f"it{suffix}: cannot be written: Permission denied" in told
        assert read(kind, path) == PAIRS[kind][0]
