"""A solve in a child process that is killed when it does not keep its limit: for servers, where one job must not end another.

Only documents cross the border, as JSON lines: in go network, catalog and policy, then a line when the caller cancels; out
come progress events, then the plan. A child that crashes or is killed leaves a plan that says that nothing is proven.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict
from typing import IO, Any

from optiselect.errors import OptiselectError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.progress import CancelSignal, Progress

GRACE_S = 2.0
"""How long after its time limit a child may still hand over its plan before it is killed."""
_POLL_S = 0.05


def solve_isolated(
    network: Network,
    catalog: Catalog,
    policy: Policy,
    on_progress: Callable[[Progress], object] | None,
    cancel: CancelSignal | Callable[[], bool] | None,
    *,
    bare: bool = False,
) -> Plan | None:
    """Solve in a child process; None when it was killed or ended without a plan. `bare`: as `solve_bare`, without the reasons.

    Raises:
        OptiselectError: when the policy carries rules of the user's own, which cannot cross to another process.
    """
    if policy.rules:
        raise OptiselectError("rules of your own are Python and cannot cross to another process; solve without isolate")
    child = subprocess.Popen([sys.executable, "-m", "optiselect.solver.isolated"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert child.stdin and child.stdout  # both are pipes
    given = threading.Event()
    watchdog = threading.Thread(target=_watch, args=(child, child.stdin, given, policy.time_limit_s + GRACE_S, cancel), daemon=True)
    plan: Plan | None = None
    try:
        watchdog.start()
        _send(child.stdin, [document.model_dump(mode="json", exclude_unset=True, by_alias=True) for document in (network, catalog, policy)] + [bare])
        given.set()
        for line in child.stdout:
            said = json.loads(line)
            if "plan" in said:
                plan = Plan(**said["plan"])
            elif on_progress is not None:
                on_progress(Progress(**said["progress"]))
    except (BrokenPipeError, json.JSONDecodeError):
        pass  # the child ended in the middle of a line; what it had handed over before stands
    finally:
        child.kill()
        child.wait()
        watchdog.join()
        for pipe in (child.stdout, child.stdin):
            with contextlib.suppress(BrokenPipeError):
                pipe.close()
    return plan


def _send(to: IO[str], value: Any) -> None:
    to.write(json.dumps(value) + "\n")
    to.flush()


def _watch(child: subprocess.Popen[str], to: IO[str], given: threading.Event, limit_s: float, cancel: CancelSignal | Callable[[], bool] | None) -> None:
    """Pass the caller's cancel on, once the documents are `given`, and kill the child at the limit."""
    waited, told = 0.0, False
    while child.poll() is None:
        try:
            child.wait(_POLL_S)
        except subprocess.TimeoutExpired:
            waited += _POLL_S
        if not told and given.is_set() and cancel is not None and (cancel() if callable(cancel) else cancel.is_set()):
            told = True
            limit_s = min(limit_s, waited + GRACE_S)
            try:
                _send(to, "cancel")
            except (BrokenPipeError, ValueError):
                return
        if waited >= limit_s:
            child.kill()
            return


def _child(given: Iterator[str], out: IO[str]) -> None:
    """The other side: read the documents, solve, tell."""
    from optiselect.explain.refusals import explained  # as in `solve`: the reasons come last, from a layer above
    from optiselect.solver.solve import solve_bare

    *stated, bare = json.loads(next(given))
    network, catalog, policy = Network(**stated[0]), Catalog(**stated[1]), Policy(**stated[2])
    stop = threading.Event()

    def listen() -> None:
        if any(True for _ in given):
            stop.set()

    threading.Thread(target=listen, daemon=True).start()
    plan = solve_bare(network, catalog, policy, cancel=stop, on_progress=lambda event: _send(out, {"progress": asdict(event)}))
    _send(out, {"plan": plan.model_dump(mode="json", by_alias=True)})
    if not bare and plan.unserved:  # a child that is killed over the reasons has handed the plan over already
        _send(out, {"plan": explained(plan, network, catalog, policy).model_dump(mode="json", by_alias=True)})


if __name__ == "__main__":
    _child(iter(sys.stdin), sys.stdout)
