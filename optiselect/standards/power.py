"""The power that a cage usually gives a module, where its port does not say."""

from __future__ import annotations

from functools import cache

from optiselect.model.terms import Form
from optiselect.standards.sources import data


@cache
def usual_module_power_w(form: Form) -> float:
    """Watts that a cage of a form gives one module: power level I for SFP, II for SFP+.

    Source: standards/power.yaml: SFF-8431; the QSFP forms from memory.
    """
    return float(data("power")["module_power_w"][form]["is"])
