"""The rules of the trade, each written once: the solver, the checker and the explainer all use the same checks."""

from __future__ import annotations

from optiselect.rules.climate import TEMPERATURE
from optiselect.rules.distance import COPPER_REACH, DISPERSION, REACH, THROUGHPUT
from optiselect.rules.glass import CORE, FIBER_MODE, ROLE, STRANDS, WAVELENGTH
from optiselect.rules.grounding import EARTHING
from optiselect.rules.light import LIGHT_BUDGET, OVERLOAD
from optiselect.rules.own import OWN_RULE
from optiselect.rules.panel import CONNECTOR, MODE_CONDITIONING, POLISH
from optiselect.rules.rule import Rule, Scope
from optiselect.rules.sockets import CAGE_POWER, CODING, FORM, INSTALLED, LASER_CLASS, LIFECYCLE, MEDIUM, RATE
from optiselect.rules.whole import DEVICE_POWER, DIVERSITY, PORT_ONCE, STOCK, STRANDS_FREE

ALL_RULES: tuple[Rule, ...] = (
    FORM,
    RATE,
    MEDIUM,
    CODING,
    TEMPERATURE,
    CAGE_POWER,
    LASER_CLASS,
    LIFECYCLE,
    INSTALLED,
    FIBER_MODE,
    CORE,
    STRANDS,
    WAVELENGTH,
    ROLE,
    CONNECTOR,
    POLISH,
    MODE_CONDITIONING,
    REACH,
    DISPERSION,
    LIGHT_BUDGET,
    OVERLOAD,
    COPPER_REACH,
    THROUGHPUT,
    EARTHING,
    PORT_ONCE,
    STRANDS_FREE,
    DEVICE_POWER,
    DIVERSITY,
    STOCK,
    OWN_RULE,
)
"""Every rule, in the order of `model.terms.RULE_IDS`."""
RULE_BY_ID: dict[str, Rule] = {rule.id: rule for rule in ALL_RULES}


def _of(scope: Scope) -> tuple[Rule, ...]:
    return tuple(rule for rule in ALL_RULES if rule.scope == scope)


END_RULES = _of("end")
PAIR_RULES = _of("pair")
PATH_RULES = _of("path")
NETWORK_RULES = _of("network")
