"""Links for the tests of rules: two optics, one cable, and every rule asked about it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from optiselect.model.catalog import Attenuator, Cord, Module
from optiselect.model.network import Cage, CopperPort, Device, Link, Panel, Run, Site
from optiselect.model.policy import Policy
from optiselect.rules import ALL_RULES, RULE_BY_ID
from optiselect.rules.examples import Example
from optiselect.rules.fitted import Asked, FittedEnd, FittedLink, Path
from optiselect.rules.rule import Breach
from optiselect.standards.pmd import pmd
from optiselect.standards.transceiver import Transceiver, transceiver

SITES = Site(id="control", building="main"), Site(id="berth", building="berth")

LONG = Module(
    part="LONG",
    form="SFP",
    rates=["1G"],
    mode="single-mode",
    strands=2,
    connector="LC",
    tx_nm=(1540, 1560),
    rx_nm=(1530, 1570),
    tx_dbm=(0, 4),
    rx_dbm=(-24, -3),
    reach_m={"single-mode": 70000},
)
"""Strong light over 70 km: too much on a short run."""


def attenuator(loss_db: float, **other: object) -> Attenuator:
    """An attenuator of single-mode with LC, with other figures where given."""
    return Attenuator(**{"part": f"ATT-{loss_db:g}", "mode": "single-mode", "connector": "LC", "loss_db": loss_db, **other})


def built_to(standard: str, **own: Any) -> Module:
    """A module built to a standard, with figures of its own where given."""
    figures = pmd(standard).figures
    return Module(**{"part": f"{standard} module", "standard": standard, "form": "SFP", "connector": "LC", "rates": figures.rates, **own})


def light(standard: str, **own: Any) -> Transceiver:
    """The figures of a module built to a standard, at the standard's rate."""
    module = built_to(standard, **own)
    return transceiver(module, module.rates[0])


def fiber(length_m: float, grade: str = "OS2", **stated: Any) -> dict[str, Any]:
    """A run of fiber as a document states it."""
    return {"fiber": {"grade": grade, "length_m": length_m, "strands": 12, **stated}}


def copper(length_m: float, category: str) -> dict[str, Any]:
    """A run of copper as a document states it."""
    return {"copper": {"category": category, "length_m": length_m}}


def link(
    a: Module | None,
    b: Module | None,
    *runs: Mapping[str, Any],
    rate: str | None = None,
    policy: Policy | None = None,
    cords: tuple[Cord | None, Cord | None] = (None, None),
    attenuators: tuple[Attenuator | None, Attenuator | None] = (None, None),
    throughput_mbit_s: float | None = None,
) -> FittedLink:
    """A link from core/1 to gate/1 over a chain of runs; None at an end is its copper socket."""
    optic = a or b
    asked_rate = rate or (optic.rates[0] if optic is not None else "1G")
    places = ["core", *(f"p{index}" for index in range(1, len(runs))), "gate"]
    chain = tuple(Run(id=f"R{index + 1}", ends=(places[index], places[index + 1]), **run) for index, run in enumerate(runs))
    panels = tuple(Panel(id=place, site="berth") for place in places[1:-1])
    path = Path(chain, (False,) * len(chain), panels, (SITES[0], *(SITES[1] for _ in chain)))
    wanted = Link(id="L1", ends=("core", "gate"), rate=asked_rate, throughput_mbit_s=throughput_mbit_s)
    asked = Asked(wanted, asked_rate, path, policy or Policy())
    first, second = (_end(place, module, asked_rate, site) for place, module, site in zip(("core", "gate"), (a, b), SITES, strict=True))
    return FittedLink(
        asked,
        FittedEnd(*first, cord=cords[0], attenuator=attenuators[0]),
        FittedEnd(*second, cord=cords[1], attenuator=attenuators[1]),
    )


def _end(place: str, module: Module | None, rate: str, site: Site) -> tuple[Any, ...]:
    if module is None:
        socket = CopperPort(id="1", rates=[rate])
        return Device(id=place, site=site.id, ports=(socket,)), site, "1", socket, "copper", None, None
    cage = Cage(id="1", form=module.form, rates=[rate])
    return Device(id=place, site=site.id, ports=(cage,)), site, "1", cage, "module", transceiver(module, rate), module


UNITS = {
    **dict.fromkeys(("reach", "copper-reach"), "m"),
    **dict.fromkeys(("cage-power", "device-power"), "W"),
    **dict.fromkeys(("light-budget", "overload"), "dB"),
    **dict.fromkeys(("strands", "strands-free"), "strands"),
    **{"temperature": "C", "core": "um", "wavelength": "nm", "dispersion": "ps/nm", "throughput": "Mbit/s", "port-once": "links", "stock": "units"},
}
"""What the figures of a breach are in; the others have names, not figures."""


def breaches(rule_id: str, fitted: FittedLink) -> list[Breach]:
    """What one rule says of one link; whatever it is asked, it says so under its own name, figures in its own unit."""
    rule = RULE_BY_ID[rule_id]
    found = [breach for end in fitted.ends for breach in rule.check(end, fitted.asked)] if rule.scope == "end" else list(rule.check(fitted))
    assert {breach.rule for breach in found} <= {rule_id}
    assert {breach.unit for breach in found} <= {"", UNITS.get(rule_id, "")}
    return found


def told(rule_id: str, fitted: FittedLink) -> list[tuple[str, object, object, bool]]:
    """Place, required and available, and whether that is a figure that is missing."""
    return [(breach.path, breach.required, breach.available, breach.unknown) for breach in breaches(rule_id, fitted)]


def with_end(fitted: FittedLink, side: int, light: Mapping[str, Any] | None = None, **changes: Any) -> FittedLink:
    """The same link with another end: other figures of its light, or fitted otherwise."""
    end = fitted.ends[side]
    if light is not None and end.light is not None:
        changes["light"] = replace(end.light, **light)
    changed = end._replace(**changes)
    return replace(fitted, b=changed) if side else replace(fitted, a=changed)


def sentences(rule_id: str, fitted: FittedLink) -> list[str]:
    """The same in words."""
    return [RULE_BY_ID[rule_id].sentence(breach) for breach in breaches(rule_id, fitted)]


def holds(rule_id: str, fitted: FittedLink) -> bool:
    """Whether a rule has nothing to say of a link."""
    return not breaches(rule_id, fitted)


def all_breaches(whole: Example) -> list[Breach]:
    """What every rule says of every link of a network and of the whole."""
    found = [breach for rule in ALL_RULES if rule.scope != "network" for fitted in whole.links for breach in breaches(rule.id, fitted)]
    return found + [breach for rule in ALL_RULES if rule.scope == "network" for breach in rule.check(whole.served)]
