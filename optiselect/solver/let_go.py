"""In haste: of an answer that takes more than there is, links are let go until there is enough for the rest.

What is left is a plan, for to take less breaks no limit. How many links can be served at most stands as it was; of what comes after
the first objective that loses by it, nothing is known any more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from optiselect.solver.choice import GREATEST, Name, Stage
from optiselect.solver.chosen import Chosen, values_of
from optiselect.solver.option import Option
from optiselect.solver.port_places import ends_at, places_for_most, worth_of
from optiselect.solver.prepare import Preparation
from optiselect.solver.scarce import Resource

MOST_LOST = 10
"""No more than one part in so many of all that was served is let go: beyond that, other options would serve far more."""


def let_go(preparation: Preparation, chosen: Chosen, crowded: set[str]) -> Chosen | None:
    """The answer without the links for which there is not enough; None when those are too many.

    Args:
        crowded: ids of the devices whose ports do not suffice.
    """
    rows = chosen.prepared.rows
    worth = worth_of(rows[link_id].link for link_id in chosen.picks)
    gone = _beyond_stock_and_power(preparation, chosen, worth)
    picks = {link_id: pick for link_id, pick in chosen.picks.items() if link_id not in gone}
    for device_id, ends in ends_at(crowded, preparation, picks).items():
        there = [end for end in ends if end[0] in picks]
        placed = places_for_most(preparation, chosen.prepared, picks, device_id, there, worth)
        for number, (link_id, side) in enumerate(there):
            pick, place = picks.pop(link_id), placed.get(number)
            if place is not None:
                picks[link_id] = replace(pick, group_a=place) if side == 0 else replace(pick, group_b=place)
    lost = sum(rows[link_id].link.weight for link_id in chosen.picks.keys() - picks.keys())
    if lost * MOST_LOST > sum(rows[link_id].link.weight for link_id in chosen.picks):
        return None
    options = {link_id: option for link_id, option in chosen.options.items() if link_id in picks}
    without = replace(chosen, options=options, stages=_stages(chosen, options), by_lists=False, fewest_confirmed=False)
    without.picks = picks
    return without


def _beyond_stock_and_power(preparation: Preparation, chosen: Chosen, worth: Mapping[str, int]) -> set[str]:
    """The links to let go for what is in stock, what devices feed and what must be diverse, those of the least worth first."""
    possible = replace(preparation.may_run_short, ports=frozenset())
    if not (possible.stock or possible.power or possible.diverse):
        return set()
    prepared, picks = chosen.prepared, chosen.picks
    uses = {link_id: prepared.builder.uses(prepared.rows[link_id], pick, possible) for link_id, pick in picks.items()}
    used: dict[Resource, int] = defaultdict(int)
    units: dict[str, int] = defaultdict(int)

    def take(link_id: str, sign: int) -> None:
        for resource, amount in uses[link_id].items():
            used[resource] += sign * amount
        for part, count in chosen.options[link_id].parts:
            units[part] += sign * count

    def is_short(resource: Resource) -> bool:
        steps = chosen.spares.get(resource[1]) if resource[0] == "stock" else None
        kept = steps.kept(units[resource[1]]) if steps is not None else 0
        return used[resource] + kept > preparation.capacity.get(resource, used[resource] + kept)

    for link_id in picks:
        take(link_id, 1)
    others: dict[Resource, list[Resource]] = defaultdict(list)
    for first, second in preparation.apart:
        others[first].append(second)
        others[second].append(first)
    gone: set[str] = set()
    for link_id in sorted(picks, key=lambda link_id: (worth[link_id], link_id)):
        if any(is_short(resource) or any(used[other] for other in others.get(resource, ())) for resource in uses[link_id]):
            take(link_id, -1)
            gone.add(link_id)
    return gone


def _stages(chosen: Chosen, options: Mapping[str, Option]) -> list[Stage]:
    """The objectives of what is left."""
    everything = [row.link for row in chosen.prepared.rows.values()]
    values = values_of(chosen.prepared, options, chosen.spares)
    most: dict[Name, int] = {"critical_links": sum(link.critical for link in everything), "links": sum(link.weight for link in everything)}
    stages: list[Stage] = []
    for stage in chosen.stages:
        as_before = all(now.value == was.value for now, was in zip(stages, chosen.stages, strict=False))
        bound = stage.bound if as_before and stage.name in GREATEST else most.get(stage.name, 0)
        stages.append(Stage(stage.name, values[stage.name], bound))
    return stages
