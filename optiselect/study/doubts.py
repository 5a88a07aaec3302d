"""Figures in doubt: which, how far they may be off, and in which steps it is looked at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from optiselect.errors import DocumentError, Fault
from optiselect.model.document import Noun
from optiselect.model.network import Fiber
from optiselect.model.plan import Plan
from optiselect.optics.attenuation import figure_serves
from optiselect.optics.budget import run_loss_pico
from optiselect.optics.decibels import to_millidecibel
from optiselect.solver.paths import Paths
from optiselect.study.case import Case
from optiselect.study.draft import Draft
from optiselect.study.edits import figures

MOST_STEPS = 1_000_000


class Doubt(Noun):
    """A figure that may be off.

    Attributes:
        place: where it stands in the documents, for example ``runs.F7.fiber.length_m``.
        limit: how far it may be off at most: the figure at the far end, above or below what it is now.
        step: how finely it is looked at.
        now: what it is now; omitted = what the documents state.
        what: in words; omitted = the place.
        unit: of all these.
    """

    place: Annotated[str, Field(min_length=1)]
    limit: float
    step: Annotated[float, Field(gt=0)] = 0.1
    now: float | None = None
    what: str = ""
    unit: str = ""

    @property
    def name(self) -> str:
        """What is in doubt, in words."""
        return self.what or self.place

    def range_of(self, case: Case) -> tuple[float, list[float]]:
        """What the figure is now, and the values to look at, from there to the limit.

        Raises:
            DocumentError: when nothing or more than one figure is meant, or there are too many steps.
        """
        now = self.now
        if now is None:
            stated = figures(Draft(case), self.place)
            if len(stated) > 1:
                raise DocumentError([Fault(self.place, f"one figure is due here, and these are {len(stated)}")], "doubt")
            now = stated[0][1]
        if abs(self.limit - now) / self.step > MOST_STEPS:
            raise DocumentError(
                [Fault(self.place, f"{self.limit:g} is more than {MOST_STEPS:,} steps of {self.step:g} from {now:g}; take longer steps")], "doubt"
            )
        first, last = now / self.step, self.limit / self.step
        if last >= first:
            steps = range(int(first // 1) + 1, int(last + 1e-9) + 1)
        else:
            steps = range(int(-(-first // 1)) - 1, int(-((-last + 1e-9) // 1)) - 1, -1)
        return now, [round(step * self.step, 6) for step in steps]

    @classmethod
    def lengths(cls, case: Case, *, factor: float = 2.0, step_m: float = 1.0) -> tuple[Doubt, ...]:
        """The length of every run, up to so many times what is stated."""
        return tuple(
            cls(
                place=f"runs.{run.id}.{'fiber' if run.fiber else 'copper'}.length_m",
                limit=run.length_m * factor,
                step=step_m,
                what=f"length of {run.id}",
                unit="m",
            )
            for run in sorted(case.network.runs, key=lambda run: run.id)
            if run.length_m
        )

    @classmethod
    def losses(cls, case: Case, plan: Plan, *, more_db: float = 20.0, step_db: float = 0.1) -> tuple[Doubt, ...]:
        """The loss of every run of fiber that the plan lights, end to end at the wavelengths used, up to so many dB more than now.

        Now is what was measured, else the greatest that is computed.
        """
        found: dict[tuple[str, float], Doubt] = {}
        for run_id, fiber, window_nm, connections in _lit(case, plan):
            loss = run_loss_pico(fiber, window_nm, connections, case.policy)
            if loss is None:
                continue
            stated = [nm for nm in fiber.measured_loss_db or () if figure_serves(fiber.grade, nm, window_nm)]
            nm = min(stated) if stated else round((window_nm[0] + window_nm[1]) / 2)
            now = to_millidecibel(loss[1]) / 1000
            place = f"runs.{run_id}.fiber.measured_loss_db.{nm:g}"
            found[run_id, nm] = cls(place=place, limit=now + more_db, step=step_db, now=now, what=f"loss of {run_id} at {nm:g} nm", unit="dB")
        return tuple(found[key] for key in sorted(found))


def _lit(case: Case, plan: Plan) -> Iterator[tuple[str, Fiber, tuple[float, float], int]]:
    """Every run of fiber with each window in which it is lit, and its mated connector pairs."""
    links = {link.id: link for link in case.network.wanted}
    paths = Paths(case.network)
    for planned in plan.links:
        (path,) = paths.of(links[planned.id].model_copy(update={"over": planned.over}))
        for way in planned.directions:
            for index, run in enumerate(path.runs):
                if run.fiber is not None and way.wavelength_nm is not None:
                    yield run.id, run.fiber, way.wavelength_nm, path.connections_of(index)
