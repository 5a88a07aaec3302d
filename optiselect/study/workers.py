"""The workers of any executor of `concurrent.futures`: how many there are, whether they are alive, and what they answer.

An executor whose worker dies says so with `BrokenExecutor`, but not always. A pool of Python's own whose worker is killed
while it writes its answer waits for the rest of it for ever, and so does whoever shuts it down: the workers themselves are
looked at while nothing comes, and such a pool is told that nothing will. One that breaks while it starts one more worker
fails at what it has just closed: `submitted` says that it is broken.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ThreadPoolExecutor, wait
from contextlib import suppress
from typing import Any, TypeVar

from optiselect.errors import OptiselectError

_LOOK_S = 1.0
"""How often the workers are looked at while no answer comes; one more look is due before they are given up."""
_Value = TypeVar("_Value")


def crosses(executor: Executor | None) -> bool:
    """Whether what is submitted goes to another process."""
    return executor is not None and not isinstance(executor, ThreadPoolExecutor)


def workers_of(executor: Executor) -> int:
    """How many workers an executor has now, as far as it tells; else as many as there are cores."""
    told = getattr(executor, "_max_workers", None)
    client = getattr(executor, "_client", None)
    if told is None and client is not None:
        with suppress(Exception):  # a cluster that does not answer now is asked again with the next chunk
            told = sum(client.nthreads().values())
    return told if isinstance(told, int) and told > 0 else _usable_cores()


def _usable_cores() -> int:
    """The processor cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def submitted(executor: Executor, work: Callable[..., _Value], *given: Any) -> Future[_Value]:
    """One more call for the workers.

    Raises:
        BrokenExecutor: when the executor is broken, also where it broke while it took the call and says something else.
    """
    try:
        return executor.submit(work, *given)
    except Exception as error:
        if _is_broken(executor) and not isinstance(error, BrokenExecutor):
            raise BrokenExecutor(f"it broke while it took a call: {error}") from error
        raise


def _is_broken(executor: Executor) -> bool:
    """Whether a pool of Python's own or of loky knows that it is broken."""
    return bool(getattr(executor, "_broken", None) or getattr(getattr(executor, "_flags", None), "broken", None))


def ended(executor: Executor, running: Collection[Future[Any]]) -> set[Future[Any]]:
    """Those that have ended, as soon as one has; none when workers have died and nothing more comes."""
    died = False
    while True:
        done = wait(running, _LOOK_S, FIRST_COMPLETED).done
        if done:
            return done
        if died:
            _let_go(executor)
            return set()
        died = any(process.exitcode for process in _processes(executor))


def _processes(executor: Executor) -> list[Any]:
    """The processes of a pool, as far as it tells them."""
    return list((getattr(executor, "_processes", None) or {}).values())


def _let_go(executor: Executor) -> None:
    """End a pool that waits for the rest of an answer: with no process left that could write it, it sees that it is broken."""
    end_workers(executor)
    writer = getattr(getattr(executor, "_result_queue", None), "_writer", None)
    if writer is not None:
        writer.close()


def end_workers(executor: Executor) -> None:
    """End what is left of a broken pool's workers: for one that was started while the pool broke, whoever closes it would wait for ever."""
    for process in _processes(executor):
        process.kill()


def all_of(executor: Executor, work: Callable[..., _Value], asked: Sequence[tuple[Any, ...]]) -> list[_Value]:
    """What the workers answer to each of the calls, in their order.

    Raises:
        OptiselectError: when a worker ended before it had answered.
    """
    try:
        futures = [submitted(executor, work, *each) for each in asked]
        running = set(futures)
        while running:
            done = ended(executor, running)
            if not done:
                raise BrokenExecutor("nothing more comes of it")
            running -= done
        return [future.result() for future in futures]
    except BrokenExecutor as error:
        end_workers(executor)
        raise OptiselectError(
            "a worker of the executor ended before it had answered (killed, crashed or out of memory): start a new executor with fewer workers,"
            f" or leave the executor out and nothing leaves this process ({error})"
        ) from error
