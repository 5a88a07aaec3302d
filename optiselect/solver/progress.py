"""Watching a solve: typed events to the caller, and the three ways in which it ends early (cancel, effort, clock)."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Literal, Protocol

from optiselect.errors import Cancelled

BEAT_S = 0.5
"""No caller waits much longer for an event, whatever is being done."""
FINISH_S = 0.0004
"""What the plan of a link takes after the choice, to assemble and to check: measured on two cores of a server, where it was less."""
FINISH_TO_PREPARE = 2.0
"""How much longer it takes to assemble and check a plan than to prepare its links: 0.9 to 1.9 was measured on generated sites of 500 to 20,000 links."""
OWN_PROCESS = (50_000, 20, 100)
"""Thresholds of Python's garbage collector for a process that does nothing but plan; looking through large networks takes much of the time."""
Stage = Literal["paths", "options", "choice", "confirm", "check"]


@dataclass(frozen=True)
class Progress:
    """One event.

    Attributes:
        stage: what is being done; in ``choice`` the objective is named.
        done, total: steps done and steps in all within the stage.
        objective: the objective under proof, None outside ``choice``.
        value, bound: the best value found and the best that is still possible, where known.
        elapsed_s: seconds since the solve began.
    """

    stage: Stage
    done: int
    total: int
    objective: str | None = None
    value: float | None = None
    bound: float | None = None
    elapsed_s: float = 0.0


class CancelSignal(Protocol):
    """Anything with ``is_set()``, for example a ``threading.Event``."""

    def is_set(self) -> bool:
        """Whether to stop."""
        ...


class Watch:
    """Carries the caller's callback, cancel signal, wall clock and deterministic effort through one solve."""

    def __init__(
        self,
        on_progress: Callable[[Progress], object] | None,
        cancel: CancelSignal | Callable[[], bool] | None,
        time_limit_s: float,
        effort: float,
    ) -> None:
        self._on_progress = on_progress
        self._cancel = cancel
        self._began = time.monotonic()
        self._limit_s = time_limit_s
        self._deadline = self._latest = self._began + time_limit_s
        self._told = 0.0
        self._last: Progress | None = None
        self.effort_left = effort
        self.clock_cut = False

    @property
    def elapsed_s(self) -> float:
        """Seconds since the solve began."""
        return time.monotonic() - self._began

    @property
    def seconds_left(self) -> float:
        """Seconds until the choice is to end, never below zero."""
        return max(0.0, self._deadline - time.monotonic())

    def leave_time_for(self, links: int, prepared_s: float = 0.0) -> None:
        """End the choice so much earlier that a plan of so many links is still assembled and checked within the limit.

        `prepared_s`: what it took to prepare them, where that is known: on a busy machine, to finish takes longer too. By a third of the limit
        at most, or by half of it where preparing them took so long.
        """
        usual_s = min(FINISH_S * links, self._limit_s / 3)
        self._latest = self._began + self._limit_s - usual_s
        self._deadline = min(self._latest, self._began + self._limit_s - min(FINISH_TO_PREPARE * prepared_s, self._limit_s / 2))

    @property
    def cancelled(self) -> bool:
        """Whether the caller wants to stop."""
        if self._cancel is None:
            return False
        return self._cancel() if callable(self._cancel) else self._cancel.is_set()

    @property
    def out_of_time(self) -> bool:
        """Whether the clock or the caller ends the solve here (remembered: the plan then says that it is not reproducible).

        To be asked often: whoever watches is told on the way that work goes on.
        """
        self.beat()
        if self.cancelled or self.seconds_left <= 0:
            self.clock_cut = True
        return self.clock_cut

    @property
    def is_over(self) -> bool:
        """Whether the clock, the caller or the effort ends the search."""
        return self.out_of_time or self.effort_left <= 0

    def is_over_now(self) -> bool:
        """`is_over` as a call, for code that asks from time to time."""
        return self.is_over

    @contextmanager
    def spending(self, effort: float) -> Iterator[None]:
        """Let what is done here spend no more than this of the effort that is left."""
        kept = max(0.0, self.effort_left - effort)
        self.effort_left -= kept
        try:
            yield
        finally:
            self.effort_left += kept

    def beat(self) -> None:
        """Send the last event again, with the time, when `BEAT_S` have passed since."""
        if self._on_progress is not None and self.elapsed_s - self._told > BEAT_S:
            self._told = self.elapsed_s
            self._last = replace(self._last or Progress("paths", 0, 1), elapsed_s=self._told)
            self._on_progress(self._last)

    def tell(self, stage: Stage, done: int, total: int, *, objective: str | None = None, value: float | None = None, bound: float | None = None) -> None:
        """Send one event."""
        if self._on_progress is not None:
            self._told = self.elapsed_s
            self._last = Progress(stage, done, total, objective, value, bound, self._told)
            self._on_progress(self._last)

    def step(self, stage: Stage, done: int, total: int, *, has_plan: bool = False) -> None:
        """Send an event when a quarter of a second has passed since the last.

        Args:
            has_plan: whether there is a plan to return. Without one, work goes on as long as a plan could be finished at the usual speed.

        Raises:
            Cancelled: when the caller wants to stop or the clock has run out.
        """
        self.beat()
        if self.out_of_time if has_plan else self.cancelled or time.monotonic() >= self._latest:
            self.clock_cut = True
            raise Cancelled
        if self._on_progress is not None and self.elapsed_s - self._told > 0.25:
            self.tell(stage, done, total)
