"""The words of the trade that a document may use, each list kept once; schemas, checks and docs are built from these."""

from __future__ import annotations

from typing import Literal, get_args

Rate = Literal["10M", "100M", "1G", "2.5G", "5G", "10G", "25G", "40G", "100G"]
Form = Literal["SFP", "SFP+", "SFP28", "QSFP+", "QSFP28"]
Medium = Literal["fiber", "copper", "single-pair", "coax"]
Mode = Literal["single-mode", "multimode"]
Grade = Literal["OM1", "OM2", "OM3", "OM4", "OM5", "OS1", "OS1a", "OS2", "62.5/160/500", "50/400/400"]
Core = Literal["62.5", "50", "9"]
Connector = Literal["LC", "SC", "ST", "FC", "MPO", "MT-RJ", "MU", "LSH", "RJ45", "M12", "terminal", "BNC", "F"]
Polish = Literal["PC", "UPC", "APC"]
Category = Literal["Cat5e", "Cat6", "Cat6A", "twisted-pair", "single-pair", "coax"]
LaserClass = Literal["1", "1M", "2", "2M", "3R", "3B", "4"]
Lifecycle = Literal["active", "last-order", "discontinued"]
RuleId = Literal[
    "form",
    "rate",
    "medium",
    "coding",
    "temperature",
    "cage-power",
    "laser-class",
    "lifecycle",
    "installed",
    "fiber-mode",
    "core",
    "strands",
    "wavelength",
    "role",
    "connector",
    "polish",
    "mode-conditioning",
    "reach",
    "dispersion",
    "light-budget",
    "overload",
    "copper-reach",
    "throughput",
    "earthing",
    "port-once",
    "strands-free",
    "device-power",
    "diversity",
    "stock",
    "own-rule",
]

RATES: tuple[Rate, ...] = get_args(Rate)
RULE_IDS: tuple[RuleId, ...] = get_args(RuleId)
WAIVABLE: tuple[RuleId, ...] = (
    "reach",
    "dispersion",
    "temperature",
    "coding",
    "laser-class",
    "lifecycle",
    "earthing",
    "copper-reach",
    "mode-conditioning",
    "throughput",
)
"""What a person may answer for; never what physics or the socket refuses."""

CORE_OF: dict[Grade, Core] = {
    "OM1": "62.5",
    "62.5/160/500": "62.5",
    "OM2": "50",
    "OM3": "50",
    "OM4": "50",
    "OM5": "50",
    "50/400/400": "50",
    "OS1": "9",
    "OS1a": "9",
    "OS2": "9",
}
LADDERS: tuple[tuple[Grade, ...], ...] = (
    ("OM5", "OM4", "OM3", "OM2", "50/400/400"),
    ("OM1", "62.5/160/500"),
    ("OS2", "OS1a", "OS1"),
)
"""Grades of one core from the best down; a figure not given for a grade is taken from the next lower one, never a higher."""
FORM_TAKES: dict[Form, tuple[Form, ...]] = {
    "SFP": ("SFP",),
    "SFP+": ("SFP+", "SFP"),
    "SFP28": ("SFP28", "SFP+", "SFP"),
    "QSFP+": ("QSFP+",),
    "QSFP28": ("QSFP28", "QSFP+"),
}


def mode_of(grade: Grade) -> Mode:
    """The mode that a fiber grade carries."""
    return "single-mode" if CORE_OF[grade] == "9" else "multimode"


def lower_or_same(grade: Grade) -> tuple[Grade, ...]:
    """The grade itself and those below it on its ladder, best first."""
    for ladder in LADDERS:
        if grade in ladder:
            return ladder[ladder.index(grade) :]
    raise KeyError(grade)


OBJECTIVE_IN_WORDS = {
    "critical_links": "critical links served",
    "links": "weight of links served",
    "unknowns": "links that rest on an unknown figure",
    "part_numbers": "part numbers",
    "cost": "cost",
    "strands": "strands",
    "modules": "modules",
    "changes": "changes to what is installed",
}
"""What a plan is measured by, as people are told."""
