"""The socket: what a port takes, runs, feeds and allows. Each rule looks at one end by itself."""

from __future__ import annotations

from collections.abc import Iterator

from optiselect.model.network import Cage, CopperPort, FixedOptic, SharedPort
from optiselect.model.terms import FORM_TAKES, Form
from optiselect.rules.fitted import Asked, FittedEnd
from optiselect.rules.rule import Breach, Rule
from optiselect.standards.power import usual_module_power_w


def _cage_form(end: FittedEnd) -> Form | None:
    """The form of the cage that a module would sit in: the converter's where there is one, else the port's."""
    if end.converter is not None:
        return end.converter.form
    return end.port.form if isinstance(end.port, Cage | SharedPort) else None


def _takes(end: FittedEnd) -> str:
    """What the socket takes, in words."""
    port = end.port
    cage = _any_of(FORM_TAKES[port.form]) if isinstance(port, Cage | SharedPort) else ""
    copper = "a copper plug" if isinstance(port, CopperPort | SharedPort) else ""
    return " or ".join(part for part in (cage, copper) if part) or "nothing, since its optic is soldered"


def _any_of(words: tuple[str, ...]) -> str:
    """Several words of a document as one: ``100M or 1G``."""
    return " or ".join(words) or "none"


def form(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where what is fitted does not go into the socket."""
    if (end.fitting == "copper" or end.converter is not None) and not isinstance(end.port, CopperPort | SharedPort):
        plug = end.converter.part if end.converter is not None else end.holds
        yield Breach("form", end.name, _takes(end), "a copper plug", facts={"part": plug})
        return
    if end.fitting == "copper":
        if end.converter is not None:
            yield Breach("form", end.name, "an optic or a module", "nothing", facts={"part": end.converter.part})
        return
    if end.fitting == "fixed":
        if not isinstance(end.port, FixedOptic) and (end.converter is None or end.converter.optic is None):
            yield Breach("form", end.name, _takes(end), "an optic of the port's own", facts={"part": "what is stated as fitted"})
        return
    cage = _cage_form(end)
    if cage is None:
        takes = f"nothing, since the optic of {end.converter.part} is soldered" if end.converter is not None else _takes(end)
        yield Breach("form", end.name, takes, end.light.form if end.light else None, facts={"part": end.holds})
    elif end.light is None or end.light.form is None:
        yield Breach("form", end.name, None, f"the form of {end.holds}", unknown=True)
    elif end.light.form not in FORM_TAKES[cage]:
        yield Breach("form", end.name, _any_of(FORM_TAKES[cage]), end.light.form, facts={"part": end.holds})


def rate(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach for each thing in this end's chain that does not run the link's rate: port, converter, module."""
    wanted, port, converter = asked.rate, end.port, end.converter
    if isinstance(port, FixedOptic):
        pass  # a fixed port runs what its optic runs
    elif end.fitting == "copper" or converter is not None:
        rates = port.copper_rates if isinstance(port, SharedPort) else port.rates
        if wanted not in rates:
            yield Breach("rate", end.name, wanted, _any_of(rates), facts={"part": "the copper socket"})
    elif wanted not in port.rates:
        yield Breach("rate", end.name, wanted, _any_of(port.rates), facts={"part": "the cage"})
    if converter is not None:
        if wanted not in converter.copper_rates:
            yield Breach("rate", end.name, wanted, _any_of(converter.copper_rates), facts={"part": f"the copper side of {converter.part}"})
        if converter.rates is not None and wanted not in converter.rates:
            yield Breach("rate", end.name, wanted, _any_of(converter.rates), facts={"part": f"the cage of {converter.part}"})
    if end.light is not None and wanted not in end.light.rates:
        if end.light.rates:
            yield Breach("rate", end.name, wanted, _any_of(end.light.rates), facts={"part": end.holds})
        else:
            yield Breach("rate", end.name, wanted, f"the rate of {end.holds}", unknown=True)


def medium(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where socket, module and path are not of one medium."""
    path_medium = asked.path.medium
    if end.converter is not None and not asked.policy.allow_converters:
        yield Breach("medium", end.name, "no media converter", end.converter.part, case="no converters")
    if end.light is None:
        if path_medium != "copper":
            yield Breach("medium", end.name, path_medium, "copper", facts={"part": end.holds})
        return
    if end.light.medium is None:
        yield Breach("medium", end.name, path_medium, f"the medium of {end.holds}", unknown=True)
        return
    if end.light.medium != path_medium:
        yield Breach("medium", end.name, path_medium, end.light.medium, facts={"part": end.holds})
    if end.fitting == "module" and end.converter is None and isinstance(end.port, Cage | SharedPort):
        media = end.port.media
        if media is not None and end.light.medium not in media:
            yield Breach("medium", end.name, end.light.medium, _any_of(media), facts={"part": "the cage"})


def coding(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where the device (or the converter) does not take the module's coding; no coding at all is one that is not known."""
    if end.module is None or end.light is None:
        return
    accepts = end.device.accepts if end.converter is None else end.converter.accepts
    if accepts is not None and not end.light.coding:
        yield Breach("coding", end.name, _any_of(accepts), f"the coding of {end.module.part}", unknown=True)
    elif accepts is not None and not any(code in accepts for code in end.light.coding):
        holder = end.device.id if end.converter is None else end.converter.part
        yield Breach("coding", end.name, _any_of(accepts), _any_of(end.light.coding), facts={"part": end.module.part, "holder": holder})


def cage_power(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where the module draws more than its cage gives."""
    if end.module is None or end.light is None:
        return
    form_of_cage = _cage_form(end)
    if form_of_cage is None:
        return  # a module that sits in no cage is a breach of `form`
    stated = end.converter.module_power_w if end.converter is not None else getattr(end.port, "module_power_w", None)
    limit_w = stated if stated is not None else usual_module_power_w(form_of_cage)
    if end.light.power_w is None:
        yield Breach("cage-power", end.name, limit_w, f"the power of {end.module.part}", "W", unknown=True)
    elif end.light.power_w > limit_w:
        yield Breach("cage-power", end.name, limit_w, end.light.power_w, "W", facts={"part": end.module.part})


def laser_class(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where a module's laser class is not among those that the policy allows."""
    light = end.light
    if light is None or light.medium in ("copper", "single-pair", "coax"):
        return
    allowed = asked.policy.laser_classes
    if light.laser_class is None:
        if end.module is not None:
            yield Breach("laser-class", end.name, _any_of(allowed), f"the laser class of {end.module.part}", unknown=True)
    elif light.laser_class not in allowed:
        yield Breach("laser-class", end.name, _any_of(allowed), light.laser_class, facts={"part": end.holds})


def lifecycle(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach for each part of this end that may not be used: by its lifecycle, or because the policy excludes it.

    A module that is in place and stays there is not ordered, so its lifecycle does not matter.
    """
    policy = asked.policy
    for item in (end.module, end.converter, end.cord, end.attenuator):
        if item is None:
            continue
        stays = item is end.module and policy.keep_installed != "no" and end.installed == item.part
        if item.part in policy.exclude_parts:
            yield Breach("lifecycle", end.name, "parts that are not excluded", "excluded", facts={"part": item.part})
        elif item.lifecycle not in policy.lifecycles and not stays:
            yield Breach("lifecycle", end.name, f"{_any_of(policy.lifecycles)} parts", item.lifecycle, facts={"part": item.part})


def installed(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach where a module that must stay in this port's cage is not what is planned there."""
    if asked.policy.keep_installed != "must" or end.installed is None:
        return
    in_cage = end.module.part if end.module is not None and end.converter is None else None
    if in_cage != end.installed:
        behind = f" in {end.converter.part}" if end.module is not None and end.converter is not None else ""
        yield Breach("installed", end.name, end.installed, f"{end.holds}{behind}")


FORM = Rule(
    id="form",
    statement="The socket takes what is fitted: the cage the module's form, the copper socket a copper plug.",
    why="A module of another form does not go in, or is not fed and not spoken to.",
    source="SFF-8432 (SFP+ module and cage), INF-8074 (SFP), SFF-8402, SFF-8665; that SFP goes into SFP+: common practice, no source",
    scope="end",
    check=form,
    phrase="{path} takes {required}, and {part} is {available}",
    holds={"devices.core.ports.1.form": "SFP+", "devices.core.ports.1.module_power_w": 1.0},
    breaks={"modules.DEMO-LX10.form": "SFP+"},
)
RATE = Rule(
    id="rate",
    statement="Port, converter and module of both ends run the link's rate.",
    why="Fiber modules do not negotiate a rate: two ends set to different rates never link.",
    source="IEEE 802.3 Clause 37 (1000BASE-X negotiates duplex and pause only; 10GBASE-R negotiates nothing)",
    scope="end",
    check=rate,
    phrase="{path}: the link runs {required}, and {part} runs {available}",
    holds={"devices.core.ports.1.rates": ["100M", "1G"]},
    breaks={"devices.core.ports.1.rates": ["100M"]},
)
MEDIUM = Rule(
    id="medium",
    statement="Module, socket and run are of one medium.",
    why="Light does not run in copper; a cage may be wired for one medium only.",
    source="common practice, no source",
    scope="end",
    check=medium,
    phrase="{path}: {required} is needed there, and {part} is for {available}",
    phrases={"no converters": "{path}: the policy allows {required}, and {available} is planned there"},
    holds={"devices.core.ports.1.media": ["fiber"]},
    breaks={"devices.core.ports.1.media": ["copper"]},
)
CODING = Rule(
    id="coding",
    statement="The device takes the module's coding.",
    why="Many devices read the module's memory and switch off a module that is not coded for them.",
    source="common practice, no source",
    scope="end",
    check=coding,
    phrase="{path}: {holder} takes modules coded {required}, and {part} is coded {available}",
    holds={"devices.core.accepts": ["open", "harbor"]},
    breaks={"devices.core.accepts": ["harbor"]},
)
CAGE_POWER = Rule(
    id="cage-power",
    statement="The module draws no more power than its cage gives.",
    why="A cage that is overdrawn browns out or overheats, and its neighbors with it.",
    source="SFF-8431, power levels I and II; SFF-8419, levels III and IV",
    scope="end",
    check=cage_power,
    phrase="{path}: the cage gives {required} {unit}, and {part} draws {available} {unit}",
    holds={"devices.core.ports.1.module_power_w": 1.0},
    breaks={"devices.core.ports.1.module_power_w": 0.9},
)
LASER_CLASS = Rule(
    id="laser-class",
    statement="The module's laser class is one that the policy allows.",
    why="Above class 1 the light at an open port can hurt an eye; who works there must be trained and the place marked.",
    source="IEC 60825-1, classes 1 and 1M",
    scope="end",
    check=laser_class,
    phrase="{path}: laser class {required} is allowed, and {part} is of class {available}",
    holds={"modules.DEMO-LX10.laser_class": "1M", "policy.laser_classes": ["1", "1M"]},
    breaks={"modules.DEMO-LX10.laser_class": "1M"},
)
LIFECYCLE = Rule(
    id="lifecycle",
    statement="Every part's lifecycle is one that the policy allows, and no part is excluded.",
    why="A part that is about to go cannot be bought again when the first one fails.",
    source="common practice, no source",
    scope="end",
    check=lifecycle,
    phrase="{path}: the policy allows {required}, and {part} is {available}",
    holds={"modules.DEMO-LX10.lifecycle": "last-order", "policy.lifecycles": ["active", "last-order"]},
    breaks={"modules.DEMO-LX10.lifecycle": "last-order"},
)
INSTALLED = Rule(
    id="installed",
    statement="Where installed modules must stay, each port keeps the one that is in its cage.",
    why="Pulling a working module stops the traffic and costs a visit.",
    source="common practice, no source",
    scope="end",
    check=installed,
    phrase="{path}: {required} is in place and must stay, and {available} is planned there",
    holds={"installed.core/1": "DEMO-LX10", "policy.keep_installed": "must"},
    breaks={"installed.core/1": "DEMO-SX", "policy.keep_installed": "must"},
)
