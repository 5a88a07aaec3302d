"""The refusal of one link as facts: candidates, tally, conflict, what comes close, sources."""

from __future__ import annotations

from optiselect.explain.candidates import NEAREST, Candidates, near_miss
from optiselect.explain.crowded import Lacking, crowding
from optiselect.explain.ground import Ground
from optiselect.explain.places import change_for
from optiselect.model.network import Link
from optiselect.model.plan import Fact, Plan
from optiselect.model.refusal import NearMiss, Refusal, Tally
from optiselect.model.terms import RULE_IDS
from optiselect.rules import RULE_BY_ID


def reasoned(ground: Ground, plan: Plan, refusal: Refusal) -> tuple[Refusal, Candidates]:
    """The refusal with every fact that stands against the link, without fixes and text; and the candidates that it speaks of."""
    link = ground.links[refusal.id]
    rate = refusal.request.get("rate")
    candidates = Candidates(ground, link, None if refusal.kind == "impossible" or rate is None else (rate,))
    if not candidates.paths:
        facts = {"candidates": 0, "tally": (), "conflict": (_no_path(link),)}
    elif not candidates.total:
        facts = {"candidates": 0, "tally": (), "conflict": tuple(_no_port(link, side) for side in (0, 1) if not ground.groups(link, side))}
    elif candidates.passing:
        beside = crowding(candidates, plan)
        facts = {
            "candidates": candidates.total,
            "tally": _added(candidates.tally(), beside.tally),
            "conflict": beside.conflict,
            "others": beside.others,
            "nearest_misses": tuple(_lacking(lacking) for lacking in beside.nearest[:NEAREST] if lacking.facts),
            "cut_short": beside.cut,
        }
    else:
        near = candidates.nearest_misses()  # first, so that each fact is told by the candidate that comes closest to it
        conflict, others = candidates.conflict()
        facts = {
            "candidates": candidates.total,
            "tally": candidates.tally(),
            "conflict": conflict,
            "others": others,
            "nearest_misses": near,
            "cut_short": candidates.cut or candidates.nearest_cut,
        }
    found = refusal.model_copy(update=facts)
    return found.model_copy(update={"sources": _sources(found)}), candidates


def _added(alone: tuple[Tally, ...], beside: tuple[Tally, ...]) -> tuple[Tally, ...]:
    """Both tallies as one, in the order of the rules; what nothing stops comes last."""
    counts: dict[str | None, int] = {}
    for entry in (*alone, *beside):
        counts[entry.rule] = counts.get(entry.rule, 0) + entry.count
    rules = sorted((rule for rule in counts if rule is not None), key=lambda rule: [*RULE_IDS].index(rule))  # type: ignore[arg-type]
    rows = [Tally(rule=rule, count=counts[rule]) for rule in rules]
    return (*rows, *([Tally(rule=None, count=counts[None])] if counts.get(None) else []))


def _lacking(lacking: Lacking) -> NearMiss:
    """A way that passes alone, with what the plan does not leave for it."""
    facts = tuple(fact for _, fact in lacking.facts)
    return near_miss(lacking.way).model_copy(update={"breaches": facts, "change": change_for(facts)})


def _no_path(link: Link) -> Fact:
    a, b = link.devices
    return Fact(
        rule="medium",
        path=f"links.{link.id}",
        required="a run, or a chain of runs of one medium",
        available="none",
        text=f"no run, and no chain of runs of one medium through panels, joins {a} and {b}",
    )


def _no_port(link: Link, side: int) -> Fact:
    device = link.devices[side]
    return Fact(rule="form", path=f"devices.{device}.ports", required="a port", available="none", text=f"{device} has no port")


def _sources(refusal: Refusal) -> tuple[str, ...]:
    """The sources of the rules that are spoken of, in the order of the rules."""
    facts = (*refusal.conflict, *(fact for miss in refusal.nearest_misses for fact in miss.breaches))
    rules = sorted({fact.rule for fact in facts}, key=RULE_IDS.index)
    return tuple(f"{rule}: {RULE_BY_ID[rule].source}" for rule in rules)
