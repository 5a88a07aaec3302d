"""The panel: the cord that joins a module to what its run presents, and the joints between runs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from optiselect.model.catalog import Cord
from optiselect.model.policy import Policy
from optiselect.model.terms import CORE_OF, Connector, Core, Grade, Polish, lower_or_same, mode_of
from optiselect.rules.fitted import FittedLink, Path
from optiselect.rules.rule import Breach, Rule
from optiselect.standards.transceiver import Transceiver

Face = Literal["flat", "angled"]


def face_of(polish: Polish | None) -> Face:
    """The end face of a polish: PC, UPC and not stated are flat, APC is angled."""
    return "angled" if polish == "APC" else "flat"


@dataclass(frozen=True, slots=True)
class CordNeed:
    """The cord that an end needs.

    Attributes:
        connectors: at the module, and at the run.
        face: of the run's plug; the module's side is flat.
        grades: those of the path; the cord must be as good as each of them.
        core: the core that it must have.
        conditioning: whether it must be a mode-conditioning cord.
    """

    connectors: tuple[Connector, Connector]
    face: Face
    grades: tuple[Grade, ...]
    core: Core
    strands: int
    conditioning: bool

    def __str__(self) -> str:
        kind = "mode-conditioning " if self.conditioning else ""
        near, far = self.connectors
        angled = " angled" if self.face == "angled" else ""
        return f"a {kind}cord {near} to {far}{angled}, {' and '.join(self.grades)}, {self.strands} strand{'' if self.strands == 1 else 's'}"


def cord_needed(light: Transceiver | None, path: Path, side: int, conditioning: bool) -> CordNeed | None:
    """The cord that an end needs; None where the run states no connectors, on copper, or where the module's figures leave it open."""
    if light is None or path.medium != "fiber" or light.connector is None or light.strands is None:
        return None
    presented = path.presents(side)
    if presented is None:
        return None
    connector, polish = presented
    return CordNeed((light.connector, connector), face_of(polish), path.grades, path.cores[0], light.strands, conditioning)


def cord_serves(cord: Cord, need: CordNeed, policy: Policy) -> bool:
    """Whether a cord meets a need: grade or better, core, strands, connectors and end faces either way round, conditioning."""
    return (
        cord.conditioning == need.conditioning
        and cord.strands == need.strands
        and CORE_OF[cord.grade] == need.core
        and good_enough(cord, need.grades)
        and (policy.allow_hybrid_cords or need.connectors[0] == need.connectors[1])
        and any(faces == ("flat", need.face) for faces in _faces(cord, need.connectors))
    )


def good_enough(cord: Cord, grades: tuple[Grade, ...]) -> bool:
    """Whether a cord's grade is as good as each of these of its core; any single-mode grade is, and a mode-conditioning cord."""
    if cord.conditioning or mode_of(cord.grade) == "single-mode":
        return True
    return all(CORE_OF[grade] != CORE_OF[cord.grade] or grade in lower_or_same(cord.grade) for grade in grades)


def _faces(cord: Cord, connectors: tuple[Connector, Connector]) -> list[tuple[Face, Face]]:
    """The end faces at the module and at the run, for each way round in which the cord's connectors fit."""
    faces = (face_of(cord.polish[0]), face_of(cord.polish[1])) if cord.polish else ("flat", "flat")
    ways: list[tuple[Face, Face]] = []
    if cord.connectors == connectors:
        ways.append(faces)
    if cord.connectors[::-1] == connectors:
        ways.append((faces[1], faces[0]))
    return ways


def conditioning_needed(a: Transceiver | None, b: Transceiver | None, path: Path) -> bool:
    """Whether mode-conditioning cords are due at both ends: either end's light asks for them on a grade of the path.

    Source: IEEE 802.3, 38.11.4 and Table 68-3: offset launch on 62.5 um and on 50 um up to OM2, never on OM3 or better.
    """
    return any(light is not None and grade in light.conditioning for light in (a, b) for grade in path.grades)


def _needs(link: FittedLink) -> Iterator[tuple[int, CordNeed | None]]:
    conditioning = conditioning_needed(link.a.light, link.b.light, link.path)
    for side, end in enumerate(link.ends):
        yield side, cord_needed(end.light, link.path, side, conditioning)


def connector(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where a cord is missing, not needed or does not fit the plugs, and where a joint's plugs do not mate."""
    lit = bool(link.beams)
    for side, need in _needs(link):
        end = link.ends[side]
        if lit and end.light is not None and end.light.connector is None and link.path.presents(side) is not None:
            yield Breach("connector", end.name, None, f"the connector of {end.holds}", unknown=True)
            continue
        cord = end.cord
        if need is None or not lit:
            if cord is not None and not (lit and link.path.presents(side) is not None):
                yield Breach("connector", end.name, "no cord", f"cord {cord.part}")
        elif cord is None:
            if link.cords_stated:
                yield Breach("connector", end.name, str(need), "none")
        elif not _faces(cord, need.connectors):
            yield Breach("connector", end.name, " to ".join(need.connectors), f"cord {cord.part}, {' to '.join(cord.connectors)}")
        elif need.connectors[0] != need.connectors[1] and not link.policy.allow_hybrid_cords:
            yield Breach("connector", end.name, "one connector on both sides", f"cord {cord.part}, a hybrid of {' and '.join(cord.connectors)}")
        elif not good_enough(cord, need.grades):
            yield Breach("connector", end.name, f"{' and '.join(need.grades)} or better", f"cord {cord.part} of {cord.grade}")
    for panel, before, after in link.path.joints():
        if before is not None and after is not None and before[0] != after[0]:
            yield Breach("connector", panel.id, f"one connector on both sides of the joint ({before[0]})", after[0])


def polish(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where a flat end face meets an angled one: cord and module, cord and run, or two runs at a panel."""
    for side, need in _needs(link):
        end = link.ends[side]
        ways = _faces(end.cord, need.connectors) if need is not None and end.cord is not None else []
        if need is not None and end.cord is not None and ways and ("flat", need.face) not in ways:
            at_module, at_run = min(ways, key=lambda way: way[0] != "flat")
            if at_module != "flat":
                yield Breach("polish", end.name, "flat", at_module, facts={"one": end.holds, "other": f"cord {end.cord.part}"})
            if at_run != need.face:
                run = link.path.runs[0 if side == 0 else -1]
                yield Breach("polish", end.name, need.face, at_run, facts={"one": f"the plug of {run.id}", "other": f"cord {end.cord.part}"})
    for index, (panel, before, after) in enumerate(link.path.joints()):
        if before is not None and after is not None and face_of(before[1]) != face_of(after[1]):
            one, other = link.path.runs[index].id, link.path.runs[index + 1].id
            yield Breach("polish", panel.id, face_of(before[1]), face_of(after[1]), facts={"one": f"the plug of {one}", "other": f"the plug of {other}"})


def mode_conditioning(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each end where a mode-conditioning cord is due and not there, or there and not due."""
    if not link.beams:
        return
    needed = conditioning_needed(link.a.light, link.b.light, link.path)
    for side, end in enumerate(link.ends):
        fitted = end.cord is not None and end.cord.conditioning
        if needed and not fitted:
            if link.path.presents(side) is None:
                run = link.path.runs[0 if side == 0 else -1]
                yield Breach("mode-conditioning", end.name, "a mode-conditioning cord", f"what {run.id} presents at its ends", unknown=True)
            elif not link.cords_stated:
                need = cord_needed(end.light, link.path, side, conditioning=True) or "a mode-conditioning cord"
                yield Breach("mode-conditioning", end.name, str(need), f"whether {need} is there", unknown=True)
            else:
                there = f"cord {end.cord.part}" if end.cord is not None else "no cord"
                yield Breach("mode-conditioning", end.name, "a mode-conditioning cord", there, facts={"grades": link.path.grades})
        elif fitted and not needed and end.cord is not None:
            yield Breach("mode-conditioning", end.name, "a plain cord", f"the mode-conditioning cord {end.cord.part}", facts={"grades": link.path.grades})


CONNECTOR = Rule(
    id="connector",
    statement="A cord, where one is needed and only there, joins the module's connector to the run's; joined runs show one connector.",
    why="Plugs of different kinds do not mate; the installer stands before the panel with the wrong cord.",
    source="TIA-568.3-D, connector identification; cords of the cable's grade or better: common practice, no source",
    scope="pair",
    check=connector,
    phrase="{path}: needed is {required}, and there is {available}",
    holds={"runs.F1.fiber.connectors": ["SC", "LC"]},
    breaks={"runs.F1.fiber.connectors": ["FC", "LC"]},
)
POLISH = Rule(
    id="polish",
    statement="A flat end face never mates with an angled one.",
    why="An air gap stays between them: several dB are lost, light is thrown back, and the faces are scratched.",
    source="common practice, no source",
    scope="pair",
    check=polish,
    phrase="{path}: {one} is {required}, and {other} is {available} there",
    holds={"runs.F1.fiber.polish": ["APC", "UPC"], "cords.DEMO-CORD-LC-SC.polish": ["UPC", "APC"]},
    breaks={"runs.F1.fiber.polish": ["APC", "UPC"]},
)
MODE_CONDITIONING = Rule(
    id="mode-conditioning",
    statement="A mode-conditioning cord is at both ends where the standard wants it, and only there.",
    why="Without offset launch the center of old multimode fiber splits the pulse: errors that come and go.",
    source="IEEE 802.3, 38.11.4; Clause 68, Table 68-3",
    scope="pair",
    check=mode_conditioning,
    phrase="{path}: {grades} asks for {required}, and there is {available}",
    holds={"fitted.L4.0.module": "DEMO-LX", "fitted.L4.1.module": "DEMO-LX", "fitted.L4.0.cord": "DEMO-CORD-MC", "fitted.L4.1.cord": "DEMO-CORD-MC"},
    breaks={"fitted.L4.0.cord": "DEMO-CORD-MC"},
)
