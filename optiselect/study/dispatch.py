"""Variants on any executor of `concurrent.futures`: a bounded window of chunks, and nothing lost when a worker dies.

An executor that was given is never resized or shut down. When it breaks, what is left is solved in child processes, each
killed at the limit, as many at a time as there were workers; a variant that ends its process twice is `lost`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, ThreadPoolExecutor

from optiselect.errors import OptiselectError
from optiselect.model.plan import Plan
from optiselect.solver.isolated import solve_isolated
from optiselect.study.answer import Answer, failure
from optiselect.study.case import Case
from optiselect.study.worker import Shipment, Task, answer_all, answered
from optiselect.study.workers import end_workers, ended, submitted, workers_of

_MOST_A_CHUNK = 20
_CHUNKS_A_WORKER = 4
"""At least so many chunks for each worker, so that none waits long for the last."""
_Chunk = tuple[Task, ...]
_Answers = Iterator[tuple[str, Answer]]


def dispatched(executor: Executor | None, shipment: Shipment, tasks: Sequence[Task]) -> _Answers:
    """Solve all tasks; answers come as they are ready."""
    if executor is None:
        for task in tasks:
            yield from answer_all(shipment, (task,))
        return
    size = max(1, min(_MOST_A_CHUNK, len(tasks) // (_CHUNKS_A_WORKER * workers_of(executor))))
    waiting: deque[_Chunk] = deque(tuple(tasks[start : start + size]) for start in range(0, len(tasks), size))
    running: dict[Future[list[tuple[str, Answer]]], _Chunk] = {}
    retried: set[str] = set()
    try:
        while waiting or running:
            broken = not _filled(executor, shipment, waiting, running)
            done = ended(executor, running) if running and not broken else set()
            broken = broken or not done
            for future in sorted(done, key=lambda future: running[future][0][0]):
                chunk = running.pop(future)
                error = CancelledError() if future.cancelled() else future.exception()
                if error is None:
                    yield from future.result()
                elif isinstance(error, BrokenExecutor):
                    broken = True
                    waiting.append(chunk)
                else:
                    yield from _again(chunk, error, waiting, retried)
            if broken:
                left = [task for chunk in (*running.values(), *waiting) for task in chunk]
                running.clear()
                end_workers(executor)
                yield from _in_children(shipment, left, workers_of(executor))
                return
    finally:
        for future in running:
            future.cancel()


def _filled(executor: Executor, shipment: Shipment, waiting: deque[_Chunk], running: dict[Future[list[tuple[str, Answer]]], _Chunk]) -> bool:
    """Submit until two chunks for each worker are on their way; False when the executor is broken."""
    most = 2 * workers_of(executor)
    while waiting and len(running) < most:
        try:
            future = submitted(executor, answer_all, shipment, waiting[0])
        except BrokenExecutor:
            return False
        running[future] = waiting.popleft()
    return True


def _again(chunk: _Chunk, error: BaseException, waiting: deque[_Chunk], retried: set[str]) -> _Answers:
    """Put the variants of a chunk that came to nothing back, one at a time; those that are back already are lost."""
    for task in chunk:
        if task[0] in retried:
            yield task[0], failure(error, "lost")
        else:
            retried.add(task[0])
            waiting.append((task,))


def _in_children(shipment: Shipment, tasks: Sequence[Task], workers: int) -> _Answers:
    base, plan = shipment.opened()
    with ThreadPoolExecutor(workers) as threads:
        futures = [threads.submit(_in_child, task, base, plan) for task in tasks]
        try:
            for future in futures:
                yield future.result()
        finally:
            for future in futures:
                future.cancel()


def _in_child(task: Task, base: Case, plan: Plan | None) -> tuple[str, Answer]:
    key, variant = task
    answer = answered(variant, base, plan, _isolated)
    return key, Answer("lost", answer.error) if answer.error.startswith(_ChildDied.__name__) else answer


class _ChildDied(OptiselectError):
    """A child process ended without an answer."""


def _isolated(case: Case) -> Plan:
    plan = solve_isolated(case.network, case.catalog, case.policy, None, None, bare=True)
    if plan is None:
        raise _ChildDied("the process that solved this ended without an answer")
    return plan
