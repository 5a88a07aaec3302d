"""Where in the documents each rule gets what it requires, in the user's ids, and what kind of change that would be.

No rule stands here: the rules say what is broken, this says where its requirement is written.
"""

from __future__ import annotations

from collections.abc import Sequence

from optiselect.model.plan import Fact
from optiselect.model.refusal import Change
from optiselect.model.terms import RuleId
from optiselect.rules import RULE_BY_ID
from optiselect.rules.fitted import FittedEnd, Path
from optiselect.rules.rule import Breach

CHANGES: tuple[Change, ...] = ("policy", "cord", "module", "device", "cable")
"""The cheapest first."""
_CHANGE: dict[RuleId, Change] = {
    "laser-class": "policy",
    "lifecycle": "policy",
    "installed": "policy",
    "own-rule": "policy",
    "connector": "cord",
    "polish": "cord",
    "mode-conditioning": "cord",
    "overload": "cord",
    "port-once": "device",
    "device-power": "device",
    "diversity": "cable",
    "strands-free": "cable",
    "copper-reach": "cable",
    "earthing": "cable",
    "fiber-mode": "cable",
    "core": "cable",
}


def runs_of(path: Path) -> str:
    """The runs of a path as one name: ``runs.F1``, ``runs.T0+T1``."""
    return "runs." + "+".join(run.id for run in path.runs)


def place_at_end(breach: Breach, end: FittedEnd, link_id: str) -> str:
    """The place of a rule of one end; what both ends share is one place."""
    device = f"devices.{end.device.id}"
    match breach.rule:
        case "rate":
            return f"links.{link_id}.rate"
        case "medium":
            return "policy.allow_converters" if breach.case == "no converters" else f"links.{link_id}"
        case "coding":
            return f"{device}.accepts" if end.converter is None else f"converters.{end.converter.part}.accepts"
        case "temperature":
            return f"sites.{end.site.id}.ambient_c" if end.site is not None else device
        case "laser-class":
            return "policy.laser_classes"
        case "lifecycle":
            return "policy.lifecycles" if breach.available != "excluded" else "policy.exclude_parts"
        case "installed":
            return f"installed.{end.name}"
        case _:
            return f"{device}.ports.{end.port_id}" if end.converter is None else f"converters.{end.converter.part}"


def place_of_pair(breach: Breach, link_id: str, path: Path) -> str:
    """The place of a rule of both ends, of a path, or of what links share."""
    runs = runs_of(path)
    match breach.rule:
        case "fiber-mode" | "core" | "mode-conditioning":
            return f"{runs}.fiber.grade"
        case "strands" | "wavelength" | "role":
            return f"links.{link_id}.ends"
        case "connector" | "polish":
            return f"{runs}.fiber.{'connectors' if breach.rule == 'connector' else 'polish'}"
        case "reach" | "dispersion":
            return f"{runs}.fiber.length_m"
        case "light-budget" | "overload":
            return f"{runs}.fiber"
        case "copper-reach":
            return f"{runs}.copper.length_m"
        case "throughput":
            return f"links.{link_id}.throughput_mbit_s"
        case "earthing":
            return f"{runs}.ends"
        case "own-rule":
            return "policy.rules"
        case "strands-free":
            return f"runs.{breach.path}"
        case "device-power":
            return f"devices.{breach.path}.module_power_w"
        case "diversity":
            return f"links.{link_id}.diverse_from"
        case "stock":
            return f"catalog.{breach.path}.stock"
        case _:
            return f"devices.{breach.path.partition('/')[0]}.ports"


def change_for(breaches: Sequence[Breach | Fact]) -> Change:
    """The dearest kind of change that these breaches need."""
    return max((_CHANGE.get(breach.rule, "module") for breach in breaches), key=CHANGES.index, default="policy")


def shortfall_of(breach: Breach) -> float:
    """What is missing, relative to what is required; all of it (1) where the two are not figures."""
    required, available = breach.required, breach.available
    if not isinstance(required, int | float) or not isinstance(available, int | float):
        return 1.0
    return abs(required - available) / max(abs(required), 1e-9)


def fact_of(breach: Breach, place: str, *, complete: bool = True, links: tuple[str, ...] = ()) -> Fact:
    """A breach as a fact of a document, with its sentence."""
    return Fact(
        rule=breach.rule,
        path=place,
        required=breach.required,
        available=breach.available,
        unit=breach.unit,
        links=links,
        complete=complete,
        text=RULE_BY_ID[breach.rule].sentence(breach),
    )
