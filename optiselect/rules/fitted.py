"""A link with both ends fitted: what every rule looks at, and all that the solver and the rules share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.network import Cage, CopperPort, Device, FixedOptic, Link, Panel, Run, SharedPort, Site
from optiselect.model.policy import Policy
from optiselect.model.terms import Category, Core, Grade, Medium, Rate
from optiselect.optics.bandwidth import effective_grade
from optiselect.optics.decibels import millimetres
from optiselect.rules.cabling import Cabling, Shown, cabling_of
from optiselect.standards.transceiver import Transceiver


@dataclass(frozen=True, slots=True)
class Path:
    """A chain of runs through panels, in order from a link's first end to its second.

    Attributes:
        runs: at least one.
        flipped: for each run, whether it is walked from its second end to its first.
        panels: the joints between the runs, one fewer than the runs.
        sites: the sites (None where not stated) of the first device, the panels and the last device.
        run_ids: the ids of its runs, in order.
        length_m: metres, all runs together, to a millimetre (so that 549.9 m and 0.1 m are 550 m).
        cabling: what it shares with paths that are cabled alike. medium: of its runs.
        counts: grade, length in mm, connections and splices of all runs together; None where a run has figures of its own or another grade.
    """

    runs: tuple[Run, ...]
    flipped: tuple[bool, ...]
    panels: tuple[Panel, ...]
    sites: tuple[Site | None, ...]
    run_ids: tuple[str, ...] = field(init=False, repr=False, compare=False)
    length_m: float = field(init=False, repr=False, compare=False)
    cabling: Cabling = field(init=False, repr=False, compare=False)
    medium: Medium = field(init=False, repr=False, compare=False)
    counts: tuple[Grade, int, int, int] | None = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        runs = self.runs
        object.__setattr__(self, "run_ids", tuple([run.id for run in runs]))
        object.__setattr__(self, "length_m", round(sum([run.length_m for run in runs]), 3))
        cabling = cabling_of(runs, self.flipped)
        object.__setattr__(self, "cabling", cabling)
        object.__setattr__(self, "medium", cabling.medium)
        object.__setattr__(self, "counts", self._counts())

    @property
    def category(self) -> Category | None:
        """The copper category, None for fiber; of a chain of several, the least."""
        return self.cabling.category

    @property
    def grades(self) -> tuple[Grade, ...]:
        """The fiber grades as stated, each once, sorted."""
        return self.cabling.grades

    @property
    def cores(self) -> tuple[Core, ...]:
        """The core diameters along the path, each once, sorted."""
        return self.cabling.cores

    @property
    def is_multimode(self) -> bool:
        """Whether any fiber of the path is multimode."""
        return self.cabling.is_multimode

    def grades_at(self, window_nm: tuple[float, float]) -> tuple[Grade | None, ...]:
        """The rows that the runs meet at a wavelength: the stated grade, or by a measured modal bandwidth (None: below every row)."""
        if not self.cabling.is_measured:
            return self.cabling.grades
        rows = {effective_grade(run.fiber, window_nm) for run in self.runs if run.fiber}
        return tuple(sorted(rows, key=lambda row: row or ""))

    def presents(self, side: int) -> Shown:
        """Connector and polish that the outer end of the path shows at side 0 or 1; None when the run states no connectors."""
        shown = self.cabling.shown
        return shown[-1][1] if side else shown[0][0]

    def joints(self) -> Iterator[tuple[Panel, Shown, Shown]]:
        """For each panel: what the run before and the run after present there."""
        shown = self.cabling.shown
        for index, panel in enumerate(self.panels):
            yield panel, shown[index][1], shown[index + 1][0]

    def connections_of(self, index: int) -> int:
        """Mated connector pairs of one run: as stated, else one at each end at a device; a joint counts with the run before it."""
        fiber = self.runs[index].fiber
        if fiber is None:
            return 0
        if fiber.connections is not None:
            return fiber.connections
        count = 1 if index == 0 else 0
        return count + 1

    def _counts(self) -> tuple[Grade, int, int, int] | None:
        if len(self.cabling.grades) != 1:
            return None
        grade = self.cabling.grades[0]
        length_mm = connections = splices = 0
        for index, run in enumerate(self.runs):
            fiber = run.fiber
            if fiber is None or fiber.measured_loss_db or fiber.attenuation_db_km:
                return None
            length_mm += millimetres(fiber.length_m)
            connections += self.connections_of(index)
            splices += fiber.splices
        return grade, length_mm, connections, splices

    @property
    def profile(self) -> tuple[object, ...]:
        """Everything of the path that a pair rule may look at: two paths of one profile admit the same pairs."""
        cabling = self.cabling
        if cabling.medium != "fiber":
            return *cabling.profile, len(self.zones) > 1, self.is_placed  # names of zones are only repeated
        if not cabling.is_measured:
            return cabling.profile
        rows = {(run.fiber.grade, effective_grade(run.fiber, (850, 850)), effective_grade(run.fiber, (1300, 1300))) for run in self.runs if run.fiber}
        return *cabling.profile, tuple(sorted(rows, key=str))

    @property
    def zones(self) -> tuple[str, ...]:
        """The earthing zones that the path touches, each once, sorted (places without a stated site are not counted)."""
        return tuple(sorted({site.zone for site in self.sites if site}))

    @property
    def is_placed(self) -> bool:
        """Whether the site of every place along the path is stated."""
        return None not in self.sites


Losses = dict[tuple[float, float] | None, tuple[int, int] | None]


@dataclass(frozen=True)
class Asked:
    """What is asked of an end or a link: the link, the rate, the path, the policy, and the rules waived for this link."""

    link: Link
    rate: Rate
    path: Path
    policy: Policy
    waived: frozenset[str] = frozenset()
    _losses: Losses | None = field(default=None, init=False, compare=False, repr=False)

    def losses(self) -> Losses:
        """What the path loses in 0.001 dB, least and greatest, by window; filled in as it is worked out."""
        if self._losses is None:
            object.__setattr__(self, "_losses", {})
        assert self._losses is not None
        return self._losses


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

    @property
    def beams(self) -> tuple[Beam, ...]:
        """The light of both directions, first end to second and back; nothing unless both ends put light into fiber."""
        a, b = self.a.light, self.b.light
        if self.asked.path.medium != "fiber" or a is None or b is None or a.medium not in ("fiber", None) or b.medium not in ("fiber", None):
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
