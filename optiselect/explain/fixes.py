"""What would help: changes are tried one by one, and those that serve the link are solved again before they are offered.

A change is first asked of the link alone, by the rules; that is quick and leaves few. Then the whole network is solved with it,
which tells what else changes. Both are bounded by counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from optiselect.errors import OptiselectError
from optiselect.explain.again import effect_of, solved_again
from optiselect.explain.candidates import Candidates
from optiselect.explain.ground import Ground
from optiselect.explain.places import CHANGES
from optiselect.explain.proposals import Proposal
from optiselect.model.patch import patched
from optiselect.model.plan import Plan
from optiselect.model.refusal import Effect, Fix, MissingPart

MOST_FIXES = 3
ONE_IS_ENOUGH = ("cable", "module", "single-strand")
"""Kinds of which the first that serves the link is enough: another part or another cable would do the same."""


@dataclass
class Effort:
    """How much may still be done: changes tried on one link, and networks solved again, counted in links; nothing once it is `over`."""

    tries: int
    links_solved: int
    over: Callable[[], bool] = bool
    """Whether the caller, or the clock, wants to stop."""

    def may_solve(self, links: int) -> bool:
        """Whether a network of so many links may be solved once more; if so it is counted."""
        if self.links_solved < links or self.over():
            return False
        self.links_solved -= links
        return True


@dataclass
class Help:
    """What helps.

    Attributes:
        fixes: solved again, at most three, in the order in which they are offered.
        more: how many further changes serve the link by itself. cut: not everything was tried.
        part: the weakest part that serves. serving: what it takes to put the link before the others.
    """

    fixes: tuple[Fix, ...] = ()
    more: int = 0
    cut: bool = False
    part: MissingPart | None = None
    serving: Effect | None = None


def help_for(ground: Ground, plan: Plan, link_id: str, proposed: Iterable[Proposal], effort: Effort, *, crowded: bool) -> Help:
    """Try what is proposed, and solve again with what serves the link by itself.

    Args:
        crowded: the link could be served alone as it is, so only the whole network tells whether a change helps.
    """
    found = Help()
    serving: list[Proposal] = []
    for proposal in proposed:
        if proposal.kind in ONE_IS_ENOUGH and any(known.kind == proposal.kind for known in serving) and not crowded:
            continue
        if not effort.tries or effort.over():
            found.cut = True
            break
        effort.tries -= 1
        if crowded or _serves_alone(ground, link_id, proposal):
            serving.append(proposal)
    found.part = next((proposal.part for proposal in serving if proposal.part is not None and not crowded), None)
    fixes: list[Fix] = []
    for proposal in _one_of_each_kind_first(serving):
        if len(fixes) >= MOST_FIXES and proposal.kind != "weight":
            found.more += 1
        elif not effort.may_solve(len(ground.network.wanted)):
            found.more += 1
            found.cut = True
        else:
            fix = _solved(ground, plan, link_id, proposal, effort.over)
            if fix is not None:
                fixes.append(fix)
                found.part = found.part or proposal.part
    found.serving = next((fix.effect for fix in fixes if fix.kind == "weight"), None)
    fixes.sort(key=_offered)
    found.more += len(fixes[MOST_FIXES:])
    found.fixes = tuple(fixes[:MOST_FIXES])
    return found


def _serves_alone(ground: Ground, link_id: str, proposal: Proposal) -> bool:
    try:
        changed = Ground(*patched(proposal.document, proposal.edits, ground.network, ground.catalog, ground.policy))
    except OptiselectError:  # a document that refuses the change, for example a value beyond what is physical
        return False
    return bool(Candidates(changed, changed.links[link_id], until_one_passes=True).passing)


def _one_of_each_kind_first(proposed: list[Proposal]) -> list[Proposal]:
    """To put the link before the others is always solved, since it tells the price; then one change of each kind, then the rest."""
    seen: set[str] = set()
    first: list[Proposal] = []
    rest: list[Proposal] = []
    for proposal in proposed:
        (rest if proposal.kind in seen else first).append(proposal)
        seen.add(proposal.kind)
    ordered = [*(item for item in first if not item.own_risk), *(item for item in rest if not item.own_risk)]
    ordered += [*(item for item in first if item.own_risk), *(item for item in rest if item.own_risk)]
    return sorted(ordered, key=lambda proposal: proposal.kind != "weight")


def _solved(ground: Ground, plan: Plan, link_id: str, proposal: Proposal, over: Callable[[], bool]) -> Fix | None:
    """The change as a fix, when the whole network, solved with it, serves the link."""
    documents = patched(proposal.document, proposal.edits, ground.network, ground.catalog, ground.policy)
    after = solved_again(*documents, cancel=over)
    if not after.reproducible or link_id not in {link.id for link in after.links}:
        return None
    specified = frozenset(edit.value["part"] for edit in proposal.edits if proposal.document == "catalog" and edit.do == "add")
    effect = effect_of(plan, after, link_id, specified)
    if proposal.kind == "weight" and not effect.loses:
        return None  # then it had room, and the plan was not finished
    return Fix(
        kind=proposal.kind,
        change=proposal.change,
        document=proposal.document,
        edits=proposal.edits,
        words=proposal.words,
        own_risk=proposal.own_risk,
        caution=proposal.caution,
        effect=effect,
    )


def _offered(fix: Fix) -> tuple[object, ...]:
    """Own risk last, then what costs other links their place; then by price where it is known, else by the kind of change."""
    unpriced = bool(fix.effect.unpriced)
    return fix.own_risk, len(fix.effect.loses), unpriced, 0.0 if unpriced else fix.effect.cost, CHANGES.index(fix.change)
