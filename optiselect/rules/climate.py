"""Climate: modules and converters must survive the air of their site."""

from __future__ import annotations

from collections.abc import Iterator

from optiselect.optics.decibels import sum_db
from optiselect.rules.fitted import Asked, FittedEnd
from optiselect.rules.rule import Breach, Rule


def temperature(end: FittedEnd, asked: Asked) -> Iterator[Breach]:
    """Yield a breach for each part whose range does not cover the site's.

    A range is that of the case: the case is warmer than the air by the policy's rise once it runs, and as cold as the air
    at a cold start. A fixed optic is checked only where its range is stated.
    """
    parts = []
    if end.converter is not None:
        parts.append((end.converter.part, end.converter.temperature_c))
    if end.light is not None and (end.module is not None or end.light.temperature_c is not None):
        parts.append((end.holds, end.light.temperature_c))
    if not parts:
        return
    ambient = end.site.ambient_c if end.site is not None else None
    if ambient is None:
        datum = f"the ambient range of site {end.site.id}" if end.site is not None else f"the site of {end.device.id}"
        yield Breach("temperature", end.name, None, datum, "C", unknown=True)
    for part, range_c in parts:
        if range_c is None:
            yield Breach("temperature", end.name, None, f"the temperature range of {part}", "C", unknown=True)
        elif ambient is not None:
            case_high_c = sum_db(ambient[1], asked.policy.temperature_rise_c)
            facts = {"part": part, "ambient": ambient[1], "rise": asked.policy.temperature_rise_c}
            if range_c[1] < case_high_c:
                yield Breach("temperature", end.name, case_high_c, range_c[1], "C", facts=facts)
            if range_c[0] > ambient[0]:
                yield Breach("temperature", end.name, ambient[0], range_c[0], "C", facts=facts, case="cold")


TEMPERATURE = Rule(
    id="temperature",
    statement="The module's range covers the site's range, with the rise from air to case at its high end.",
    why="A module outside its range drops the link in the first heat or the first frost, when nobody can get there.",
    source="SFF-8472, diagnostics: the class is the case temperature; the rise of 15 K from air to case is from memory",
    scope="end",
    check=temperature,
    phrase="{path}: with air of {ambient} {unit} and {rise} {unit} of rise the case reaches {required} {unit}, and {part} bears {available} {unit}",
    phrases={"cold": "{path}: a cold start is at {required} {unit}, and {part} starts from {available} {unit}"},
    holds={"sites.berth.ambient_c": [-40, 70]},
    breaks={"sites.berth.ambient_c": [-40, 71]},
)
