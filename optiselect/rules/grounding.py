"""Grounding: copper that leaves a building brings lightning and earth potentials along; glass does not."""

from __future__ import annotations

from collections.abc import Iterator

from optiselect.rules.fitted import FittedLink
from optiselect.rules.rule import Breach, Rule


def earthing(link: FittedLink) -> Iterator[Breach]:
    """Yield a breach where copper joins two earthing zones, or may do so because a place's site is not stated."""
    path = link.path
    if path.medium == "fiber" or link.policy.copper_between_buildings:
        return
    runs = tuple(run.id for run in path.runs)
    if len(path.zones) > 1:
        yield Breach("earthing", link.name, "one building", " and ".join(path.zones), facts={"runs": runs, "zones": path.zones})
    elif not path.is_placed:
        yield Breach("earthing", link.name, "one building", f"the site of a place along {', '.join(runs)}", unknown=True)


EARTHING = Rule(
    id="earthing",
    statement="No copper runs between two buildings, unless the policy allows it.",
    why="A surge, or a difference of earth potential, travels along the copper into both devices and whoever touches them.",
    source="common practice, no source; local code and a licensed electrician decide",
    scope="pair",
    check=earthing,
    phrase="{path}: copper is to stay in {required}, and that of {runs} joins {available}",
    holds={"sites.office.building": "annex", "policy.copper_between_buildings": True},
    breaks={"sites.office.building": "annex"},
)
