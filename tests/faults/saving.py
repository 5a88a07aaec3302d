"""Saves that end badly, each in a process of its own: killed at any moment, at any step, on a full disk, in a folder that is not ours."""

from __future__ import annotations

import multiprocessing
import os
import resource
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Any

from optiselect.errors import OptiselectError
from optiselect.formats import writing
from optiselect.model.document import Document
from tests.formats.quay import QUAY
from tests.handover.pier import CATALOG, NETWORK, plan

PAIRS: dict[str, tuple[Document, Document]] = {
    "network": (NETWORK, QUAY),
    "catalog": (CATALOG, CATALOG.model_copy(update={"name": "Lantern parts, second edition"})),
    "plan": (plan(), plan(cautions=("Treat every fiber as live.",) * 200)),
}
"""An old document and a new one of each kind."""
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["tests.faults.saving"])
NOBODY = 65534
ON_THE_DISK = {work.__code__ for work in (writing.write_whole, writing.write_together, writing._rename_all, writing._write_synced, writing._sync_folder)}
"""The code that touches the disk: a step is a line of it."""


def ended(work: Callable[..., Any], *arguments: Any) -> Any:
    """Do something in a process of its own and return what it hands back; None when it was killed."""
    here, there = PROCESSES.Pipe(duplex=False)
    child = PROCESSES.Process(target=_hand_back, args=(there, work, arguments))
    child.start()
    there.close()
    try:
        return here.recv()
    except EOFError:
        return None
    finally:
        child.join()


def _hand_back(to: Any, work: Callable[..., Any], arguments: tuple[Any, ...]) -> None:
    to.send(work(*arguments))


def save_for_ever(kind: str, path: Path) -> None:
    """Save the new and the old document in turn, until killed."""
    old, new = PAIRS[kind]
    while True:
        new.save(path)
        old.save(path)


def save_and_die_at(step: int, kind: str, path: Path) -> str:
    """Save the new document, and be killed before a step of the writing; steps are counted in lines of its code."""
    left = step

    def watch(frame: FrameType, event: str, _argument: object) -> Any:
        nonlocal left
        if frame.f_code not in ON_THE_DISK:
            return None
        left -= event == "line"
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return watch

    sys.settrace(watch)
    PAIRS[kind][1].save(path)
    sys.settrace(None)
    return "saved"


def save_within(most: int, kind: str, path: Path) -> str:
    """Save the new document where no file may grow beyond so many bytes: what a full disk does to a writer."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return _told(lambda: PAIRS[kind][1].save(path))


def hand_over_within(most: int, folder: Path) -> str:
    """Write all papers where no file may grow beyond so many bytes."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return _told(lambda: plan().hand_over(folder, NETWORK, CATALOG))


def save_as_nobody(kind: str, path: Path) -> str:
    """Save the new document as a user who may read the folder and not write to it."""
    with TemporaryDirectory() as folder:
        PAIRS[kind][1].save(Path(folder) / path.name)  # so that everything is loaded that this user could not read
    if os.geteuid() == 0:
        os.setuid(NOBODY)
    return _told(lambda: PAIRS[kind][1].save(path))


def _told(work: Callable[[], object]) -> str:
    try:
        work()
    except OptiselectError as error:
        return str(error)
    return "saved"


def read(kind: str, path: Path) -> Document:
    """The document that is there now."""
    return type(PAIRS[kind][0]).load(path)
