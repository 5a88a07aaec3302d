"""The glass: mode, core, strands, wavelengths and roles that both ends and the whole path must agree on.

Kinds only: how far it carries is distance.py, how much light arrives is light.py, what joins the plugs is panel.py.
"""

from __future__ import annotations

from collections.abc import Iterator

from optiselect.model.catalog import Cord
from optiselect.model.terms import CORE_OF, Grade, mode_of
from optiselect.rules.fitted import FittedEnd, FittedLink
from optiselect.rules.rule import Breach, Rule
from optiselect.standards.transceiver import Transceiver

Window = tuple[float, float]


def takes_mode(light: Transceiver, grade: Grade) -> bool | None:
    """Whether a fiber of a grade takes the light: by its mode, or because a reach is published for that grade. None: mode unknown."""
    if light.mode is not None and light.mode == mode_of(grade):
        return True
    if light.reach_for(grade) is not None:
        return True
    return None if light.mode is None else False


def _cords(link: FittedLink) -> Iterator[tuple[FittedEnd, Cord]]:
    for end in link.ends:
        if end.cord is not None:
            yield end, end.cord


def fiber_mode(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each light, run or cord that is of the other mode."""
    lit = link.beams
    if not lit:
        return
    fibers = [(run.id, run.fiber.grade) for run in link.path.runs if run.fiber]
    for end, light, *_ in lit:
        for grade in link.path.grades:
            taken = takes_mode(light, grade)
            if taken is None:
                yield Breach("fiber-mode", end.name, mode_of(grade), f"the mode of {end.holds}", unknown=True)
                break
            if not taken:
                facts = {"part": end.holds, "runs": tuple(run for run, its in fibers if its == grade), "grade": grade}
                yield Breach("fiber-mode", end.name, mode_of(grade), light.mode, facts=facts)
    first, mode = fibers[0][0], mode_of(fibers[0][1])
    for run, grade in fibers[1:]:
        if mode_of(grade) != mode:
            facts = {"part": f"run {run}", "runs": (first,), "grade": fibers[0][1]}
            yield Breach("fiber-mode", link.name, mode, mode_of(grade), facts=facts)
    for end, cord in _cords(link):
        if all(mode_of(cord.grade) != mode_of(grade) for grade in link.path.grades):
            facts = {"part": f"cord {cord.part}", "runs": tuple(run for run, _ in fibers), "grade": fibers[0][1]}
            yield Breach("fiber-mode", end.name, mode, mode_of(cord.grade), facts=facts)


def core(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where runs, or a run and its cord, are multimode of different core diameters (single-mode is `fiber-mode`'s)."""
    if not link.beams:
        return
    multimode = [(run.id, CORE_OF[run.fiber.grade]) for run in link.path.runs if run.fiber and mode_of(run.fiber.grade) == "multimode"]
    if not multimode:
        return
    first, diameter = multimode[0]
    for run, other in multimode[1:]:
        if other != diameter:
            yield Breach("core", link.name, diameter, other, "um", facts={"part": f"run {run}", "runs": (first,)})
    for end, cord in _cords(link):
        if mode_of(cord.grade) == "multimode" and all(CORE_OF[cord.grade] != its for _, its in multimode):
            facts = {"part": f"cord {cord.part}", "runs": tuple(run for run, _ in multimode)}
            yield Breach("core", end.name, diameter, CORE_OF[cord.grade], "um", facts=facts)


def strands(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where the ends, or an end and its cord, use different numbers of strands."""
    lit = link.beams
    for end, light, *_ in lit:
        if light.strands is None:
            yield Breach("strands", end.name, None, f"the number of strands of {end.holds}", unknown=True)
        elif end.cord is not None and end.cord.strands != light.strands:
            yield Breach("strands", end.name, light.strands, end.cord.strands, "strands", facts={"part": end.holds, "other": f"cord {end.cord.part}"})
    if not lit:
        return
    ours, theirs = lit[0].light.strands, lit[0].far.strands
    if ours is not None and theirs is not None and ours != theirs:
        yield Breach("strands", link.name, ours, theirs, "strands", facts={"part": link.a.holds, "other": link.b.holds})


def wavelength(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach for each direction whose light misses the far receiver, and where two senders on one strand overlap."""
    lit = link.beams
    for sender, light, receiver, far in lit:
        sent, heard = light.tx_nm, far.rx_nm
        if sent is None:
            yield Breach("wavelength", sender.name, None, f"the wavelength that {sender.holds} sends", "nm", unknown=True)
        if heard is None:
            yield Breach("wavelength", receiver.name, None, f"the wavelength that {receiver.holds} receives", "nm", unknown=True)
        if sent is not None and heard is not None and not (heard[0] <= sent[0] and sent[1] <= heard[1]):
            facts = {"part": receiver.holds, "other": sender.holds}
            yield Breach("wavelength", f"{sender.name} to {receiver.name}", _nm(heard), _nm(sent), "nm", facts=facts)
    if lit and lit[0].light.strands == lit[0].far.strands == 1:
        ours, theirs = lit[0].light.tx_nm, lit[0].far.tx_nm
        if ours is not None and theirs is not None and _overlap(ours, theirs):
            facts = {"part": link.a.holds, "other": link.b.holds}
            yield Breach("wavelength", link.name, _nm(ours), _nm(theirs), "nm", facts=facts, case="one strand")


def _overlap(one: Window, other: Window) -> bool:
    """Whether two windows have more than an edge in common (two equal wavelengths do)."""
    return one == other or (one[0] < other[1] and other[0] < one[1])


def _nm(window: Window) -> str:
    return f"{window[0]:g}" if window[0] == window[1] else f"{window[0]:g}-{window[1]:g}"


def role(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where an end pairs with another role than the far end has, and where D meets D or U meets U."""
    a, b = link.a.light, link.b.light
    for (near, light), (far, far_light) in (((link.a, a), (link.b, b)), ((link.b, b), (link.a, a))):
        if light is not None and light.pairs_with is not None:
            found = far_light.role if far_light is not None else None
            if found != light.pairs_with:
                yield Breach(
                    "role", link.name, light.pairs_with, found or "no role", facts={"end": near.name, "part": near.holds, "far": far.name, "other": far.holds}
                )
    if a is not None and b is not None and a.standard is not None and a.standard == b.standard and a.standard != a.family:
        kind = a.standard[-1]
        facts = {"end": link.a.name, "part": link.a.holds, "far": link.b.name, "other": link.b.holds}
        yield Breach("role", link.name, "U" if kind == "D" else "D", kind, facts=facts)


FIBER_MODE = Rule(
    id="fiber-mode",
    statement="Module, runs and cords are single-mode, or multimode, along the whole path.",
    why="Light of a multimode source hardly enters a single-mode core; single-mode light in multimode fiber breaks up, unless a reach is published for it.",
    source="IEEE 802.3 Clause 38, Tables 38-2 and 38-6",
    scope="pair",
    check=fiber_mode,
    phrase="{path}: {part} is {available}, and {runs} {runs_is} {required} fiber ({grade})",
    holds={"cords.DEMO-CORD-LC-SC.grade": "OS1"},
    breaks={"cords.DEMO-CORD-LC-SC.grade": "OM3"},
)
CORE = Rule(
    id="core",
    statement="One core diameter runs along the whole path, cords included.",
    why="From 62.5 um into 50 um several dB are lost, and only one way, so a test from the other end does not show it.",
    source="TIA-568 application table note (62.5 into 50 um: up to 4.7 dB); IEEE 802.3 Clause 38, Table 38-2 knows one core a link",
    scope="pair",
    check=core,
    phrase="{path}: the core of {part} is {available} {unit}, and that of {runs} is {required} {unit}",
    holds={"cords.DEMO-CORD-OM2.grade": "OM3"},
    breaks={"cords.DEMO-CORD-OM2.grade": "OM1"},
)
STRANDS = Rule(
    id="strands",
    statement="Both ends, and their cords, use the same number of strands.",
    why="A two-strand module listens on a strand that a single-strand module does not send on.",
    source="IEEE 802.3 Clause 59 (one strand: BX10, two strands: LX10)",
    scope="pair",
    check=strands,
    phrase="{path}: {part} uses {required_units}, and {other} has {available}",
    holds={"modules.DEMO-LX10.strands": 2},
    breaks={"cords.DEMO-CORD-LC-SC.strands": 1},
)
WAVELENGTH = Rule(
    id="wavelength",
    statement="Each sender is inside the far receiver's window; on one strand the two senders do not overlap.",
    why="A receiver is deaf outside its window, and on one strand it would hear its own sender's echo.",
    source="IEEE 802.3 Clause 59 (1000BASE-BX10), Clause 158 (10GBASE-BR)",
    scope="pair",
    check=wavelength,
    phrase="{path}: {part} receives {required} {unit}, and {other} sends {available} {unit}",
    phrases={"one strand": "{path}: on one strand {part} sends {required} {unit}, and {other} sends {available} {unit}, which overlap"},
    holds={"modules.DEMO-BX-U.tx_nm": [1290, 1330]},
    breaks={"modules.DEMO-BX-U.tx_nm": [1540, 1560]},
)
ROLE = Rule(
    id="role",
    statement="The two ends take matching roles: downstream with upstream, and whatever a part says it pairs with.",
    why="Two units of one kind both send what neither receives, or both wait to be called.",
    source="IEEE 802.3 Clauses 58, 59 and 158 (D and U)",
    scope="pair",
    check=role,
    phrase="{path}: {part} at {end} pairs with {required}, and {other} at {far} is {available}",
    holds={"modules.DEMO-PAIR-NEAR.pairs_with": "far"},
    breaks={"modules.DEMO-PAIR-NEAR.pairs_with": "near"},
)
