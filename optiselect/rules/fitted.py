"""A link with both ends fitted: what every rule looks at, and all that the solver and the rules share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal, NamedTuple

from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.network import Cage, CopperPort, Device, FixedOptic, Link, Panel, Run, SharedPort, Site
from optiselect.model.policy import Policy
from optiselect.model.terms import CORE_OF, Category, Connector, Core, Grade, Medium, Polish, Rate, mode_of
from optiselect.optics.bandwidth import effective_grade
from optiselect.optics.decibels import milli
from optiselect.standards.transceiver import Transceiver

_LEAST_FIRST: tuple[Category, ...] = ("twisted-pair", "Cat5e", "Cat6", "Cat6A", "single-pair", "coax")


@dataclass(frozen=True)
class Path:
    """A chain of runs through panels, in order from a link's first end to its second.

    Attributes:
        runs: at least one.
        flipped: for each run, whether it is walked from its second end to its first.
        panels: the joints between the runs, one fewer than the runs.
        sites: the sites (None where not stated) of the first device, the panels and the last device.
    """

    runs: tuple[Run, ...]
    flipped: tuple[bool, ...]
    panels: tuple[Panel, ...]
    sites: tuple[Site | None, ...]

    @cached_property
    def run_ids(self) -> tuple[str, ...]:
        """The ids of its runs, in order."""
        return tuple(run.id for run in self.runs)

    @cached_property
    def medium(self) -> Medium:
        """The medium of its runs (a chain is of one medium; copper of its category's kind)."""
        run = self.runs[0]
        if run.fiber is not None:
            return "fiber"
        category = run.copper.category if run.copper else None
        return "single-pair" if category == "single-pair" else "coax" if category == "coax" else "copper"

    @cached_property
    def category(self) -> Category | None:
        """The copper category, None for fiber; of a chain of several, the least."""
        categories = [run.copper.category for run in self.runs if run.copper]
        return min(categories, key=_LEAST_FIRST.index) if categories else None

    @cached_property
    def length_m(self) -> float:
        """Metres, all runs together, to a millimetre (so that 549.9 m and 0.1 m are 550 m)."""
        return round(sum(run.length_m for run in self.runs), 3)

    @cached_property
    def grades(self) -> tuple[Grade, ...]:
        """The fiber grades as stated, each once, sorted."""
        return tuple(sorted({run.fiber.grade for run in self.runs if run.fiber}))

    @cached_property
    def cores(self) -> tuple[Core, ...]:
        """The core diameters along the path, each once, sorted."""
        return tuple(sorted({CORE_OF[grade] for grade in self.grades}))

    @cached_property
    def is_multimode(self) -> bool:
        """Whether any fiber of the path is multimode."""
        return any(mode_of(grade) == "multimode" for grade in self.grades)

    def grades_at(self, window_nm: tuple[float, float]) -> tuple[Grade | None, ...]:
        """The rows that the runs meet at a wavelength: the stated grade, or by a measured modal bandwidth (None: below every row)."""
        if not self._is_measured:
            return self.grades
        rows = {effective_grade(run.fiber, window_nm) for run in self.runs if run.fiber}
        return tuple(sorted(rows, key=lambda row: row or ""))

    @cached_property
    def _is_measured(self) -> bool:
        return any(run.fiber is not None and run.fiber.modal_bandwidth_mhz_km for run in self.runs)

    def presents(self, side: int) -> tuple[Connector, Polish | None] | None:
        """Connector and polish that the outer end of the path shows at side 0 or 1; None when the run states no connectors."""
        run = self.runs[0] if side == 0 else self.runs[-1]
        flipped = self.flipped[0] if side == 0 else self.flipped[-1]
        fiber = run.fiber
        if fiber is None or fiber.connectors is None:
            return None
        end = side if not flipped else 1 - side
        return fiber.connectors[end], (fiber.polish[end] if fiber.polish else None)

    def joints(self) -> Iterator[tuple[Panel, tuple[Connector, Polish | None] | None, tuple[Connector, Polish | None] | None]]:
        """For each panel: what the run before and the run after present there."""
        for index, panel in enumerate(self.panels):
            yield panel, self._shown_at(index, 1), self._shown_at(index + 1, 0)

    def _shown_at(self, index: int, side: int) -> tuple[Connector, Polish | None] | None:
        fiber = self.runs[index].fiber
        if fiber is None or fiber.connectors is None:
            return None
        end = side if not self.flipped[index] else 1 - side
        return fiber.connectors[end], (fiber.polish[end] if fiber.polish else None)

    def connections_of(self, index: int) -> int:
        """Mated connector pairs of one run: as stated, else one at each end at a device; a joint counts with the run before it."""
        fiber = self.runs[index].fiber
        if fiber is None:
            return 0
        if fiber.connections is not None:
            return fiber.connections
        count = 1 if index == 0 else 0
        return count + 1

    @cached_property
    def counts(self) -> tuple[Grade, int, int, int] | None:
        """Grade, length in mm, connections and splices of all runs together; None where a run has figures of its own or another grade."""
        length_mm = connections = splices = 0
        for index, run in enumerate(self.runs):
            fiber = run.fiber
            if fiber is None or fiber.grade != self.grades[0] or fiber.measured_loss_db or fiber.attenuation_db_km:
                return None
            length_mm += milli(fiber.length_m)
            connections += self.connections_of(index)
            splices += fiber.splices
        return self.grades[0], length_mm, connections, splices

    @cached_property
    def profile(self) -> tuple[object, ...]:
        """Everything of the path that a pair rule may look at: two paths of one profile admit the same pairs."""
        rows: set[tuple[object, ...]] = {(grade,) for grade in self.grades}
        if self._is_measured:
            rows = {(run.fiber.grade, effective_grade(run.fiber, (850, 850)), effective_grade(run.fiber, (1300, 1300))) for run in self.runs if run.fiber}
        joints = tuple((before, after) for _, before, after in self.joints())
        earthing = (len(self.zones) > 1, self.is_placed) if self.medium != "fiber" else ()  # names of zones are only repeated
        return (self.medium, self.category, tuple(sorted(rows, key=str)), self.presents(0), self.presents(1), joints, earthing)

    @cached_property
    def zones(self) -> tuple[str, ...]:
        """The earthing zones that the path touches, each once, sorted (places without a stated site are not counted)."""
        return tuple(sorted({site.zone for site in self.sites if site}))

    @cached_property
    def is_placed(self) -> bool:
        """Whether the site of every place along the path is stated."""
        return None not in self.sites


@dataclass(frozen=True)
class Asked:
    """What is asked of an end or a link: the link, the rate, the path, the policy, and the rules waived for this link.

    `losses`: what the path loses in 0.001 dB, least and greatest, by window; filled in as it is worked out.
    """

    link: Link
    rate: Rate
    path: Path
    policy: Policy
    waived: frozenset[str] = frozenset()
    losses: dict[tuple[float, float] | None, tuple[int, int] | None] = field(default_factory=dict, compare=False, repr=False)


class FittedEnd(NamedTuple):
    """One end of a link with what is fitted there.

    Attributes:
        fitting: ``module`` (in the port's cage, or in a converter's cage), ``fixed`` (the port's or a converter's own optic)
            or ``copper`` (the copper socket).
        light: the figures of the module or optic at the link's rate; None for a copper socket.
        module: the catalog part, None unless a module is fitted.
        converter: the media converter behind a copper socket, if any.
        installed: the part number that is already in this port's cage, if any.
    """

    device: Device
    site: Site | None
    port_id: str
    port: Cage | FixedOptic | SharedPort | CopperPort
    fitting: Literal["module", "fixed", "copper"]
    light: Transceiver | None = None
    module: Module | None = None
    converter: Converter | None = None
    cord: Cord | None = None
    attenuator: Attenuator | None = None
    installed: str | None = None

    @property
    def name(self) -> str:
        """``device/port``."""
        return f"{self.device.id}/{self.port_id}"

    @property
    def stays(self) -> bool:
        """Whether the module that is in place stays there, so that it is not bought."""
        return self.installed is not None and self.module is not None and self.installed == self.module.part and self.converter is None

    @property
    def holds(self) -> str:
        """What is fitted, in words: a part number, "the fixed optic" or "the copper socket"."""
        if self.module is not None:
            return self.module.part
        if self.fitting == "copper":
            return "the copper socket"
        return "the fixed optic" if self.converter is None else f"the optic of {self.converter.part}"


class Beam(NamedTuple):
    """The light of one direction: who sends with what, and who receives with what."""

    sender: FittedEnd
    light: Transceiver
    receiver: FittedEnd
    far: Transceiver

    @property
    def name(self) -> str:
        """``device/port to device/port``."""
        return f"{self.sender.name} to {self.receiver.name}"


@dataclass(frozen=True)
class FittedLink:
    """A link with both ends fitted, over one path, at one rate.

    `cords_stated`: whether its cords and attenuators are known; of what is merely plugged in, only the modules are.
    """

    asked: Asked
    a: FittedEnd
    b: FittedEnd
    cords_stated: bool = field(default=True, kw_only=True)

    @property
    def ends(self) -> tuple[FittedEnd, FittedEnd]:
        """Both ends, in the order of the link's ends."""
        return self.a, self.b

    @property
    def name(self) -> str:
        """``device/port to device/port``."""
        return f"{self.a.name} to {self.b.name}"

    @property
    def path(self) -> Path:
        """The path."""
        return self.asked.path

    @property
    def rate(self) -> Rate:
        """The rate."""
        return self.asked.rate

    @property
    def policy(self) -> Policy:
        """The policy."""
        return self.asked.policy

    @cached_property
    def beams(self) -> tuple[Beam, ...]:
        """The light of both directions, first end to second and back; nothing unless both ends put light into fiber."""
        a, b = self.a.light, self.b.light
        if self.path.medium != "fiber" or a is None or b is None or a.medium not in ("fiber", None) or b.medium not in ("fiber", None):
            return ()
        return Beam(self.a, a, self.b, b), Beam(self.b, b, self.a, a)

    def attenuation_between(self, sender: FittedEnd, receiver: FittedEnd) -> float:
        """Loss in dB of the attenuators that the light of one direction passes.

        On two strands the one at the receiver; on a single strand those at either end, since both directions pass it.
        """
        if sender.attenuator is None and receiver.attenuator is None:
            return 0.0
        single = sender.light is not None and sender.light.strands == 1
        fitted = (sender.attenuator, receiver.attenuator) if single else (receiver.attenuator,)
        return sum(item.loss_db for item in fitted if item)
