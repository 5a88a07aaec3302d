"""Choose compatible pluggable optics for a whole network, proven and checked.

The names below are loaded when they are first used, so that ``import optiselect`` stays quick.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optiselect.errors import (
        Cancelled,
        DocumentError,
        Fault,
        NewerFormatError,
        OptiselectError,
        PlanCheckError,
        UnknownNameError,
    )
    from optiselect.explain import explain
    from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
    from optiselect.model.inventory import Inventory
    from optiselect.model.network import Cage, Copper, CopperPort, Device, Fiber, FixedOptic, Link, Network, Panel, Run, SharedPort, Site
    from optiselect.model.plan import Finding, Plan
    from optiselect.model.policy import Policy
    from optiselect.solver.audit import check
    from optiselect.solver.solve import solve
    from optiselect.study.case import Case
    from optiselect.study.study import Study
    from optiselect.study.variants import Variant

__version__ = "0.1.0"

__all__ = [
    "Attenuator",
    "Cage",
    "Cancelled",
    "Case",
    "Catalog",
    "Converter",
    "Copper",
    "CopperPort",
    "Cord",
    "Device",
    "DocumentError",
    "Fault",
    "Fiber",
    "Finding",
    "FixedOptic",
    "Inventory",
    "Link",
    "Module",
    "Network",
    "NewerFormatError",
    "OptiselectError",
    "Panel",
    "Plan",
    "PlanCheckError",
    "Policy",
    "Run",
    "SharedPort",
    "Site",
    "Study",
    "UnknownNameError",
    "Variant",
    "check",
    "explain",
    "solve",
]

_HOME = {
    "errors": ("Cancelled", "DocumentError", "Fault", "NewerFormatError", "OptiselectError", "PlanCheckError", "UnknownNameError"),
    "explain": ("explain",),
    "model.catalog": ("Attenuator", "Catalog", "Converter", "Cord", "Module"),
    "model.inventory": ("Inventory",),
    "model.network": (
        "Cage",
        "Copper",
        "CopperPort",
        "Device",
        "Fiber",
        "FixedOptic",
        "Link",
        "Network",
        "Panel",
        "Run",
        "SharedPort",
        "Site",
    ),
    "model.plan": ("Finding", "Plan"),
    "model.policy": ("Policy",),
    "solver.audit": ("check",),
    "solver.solve": ("solve",),
    "study.case": ("Case",),
    "study.study": ("Study",),
    "study.variants": ("Variant",),
}
_HOME_OF = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _FrontDoor(ModuleType):
    """This module: loading the folder ``explain`` does not hide the function ``explain``."""

    def __setattr__(self, name: str, value: Any) -> None:
        if not (name in _HOME_OF and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _FrontDoor
