"""The refusals of a plan, filled: why each link is not served, and for the first few what would help.

All bounds are counts, so the same input gives the same words. The plan itself does not depend on any of this.
"""

from __future__ import annotations

from collections.abc import Callable

from optiselect.explain.fixes import Effort, help_for
from optiselect.explain.ground import Ground
from optiselect.explain.proposals import proposals
from optiselect.explain.reasons import reasoned
from optiselect.explain.wording import refusal_text, stopped_text
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Plan, Refusal
from optiselect.model.policy import Policy

IN_A_PLAN = 3
"""How many links of a plan, the first by id, get what would help them searched."""
REASONED, REASONED_AFTER_A_CUT = 100, 10
"""How many get their reasons looked for at all: of a whole plan, and of one that the clock or the caller ended."""
TRIES = 16
LINKS_SOLVED = 360
"""For those: changes tried on each link, and networks solved again, counted in links, for all of them together."""
TRIES_OF_ONE = 48
LINKS_SOLVED_OF_ONE, NETWORKS_OF_ONE = 2_000, 8
"""The same for a link that is asked for by name, and how many networks at most."""


def explained(plan: Plan, network: Network, catalog: Catalog, policy: Policy, over: Callable[[], bool] = bool) -> Plan:
    """The same plan with the reasons of every link that it does not serve.

    Once it is `over` for the caller or the clock, the rest is left without reasons, and the plan says that it is not reproducible.
    """
    if not plan.unserved or not plan.objective:  # without objectives nothing was looked at
        return plan
    ground = Ground(network, catalog, policy)
    searched = plan.unserved[:IN_A_PLAN] if plan.reproducible else ()
    reasoned_about = REASONED if plan.reproducible else REASONED_AFTER_A_CUT
    links = max(len(network.wanted), 1)
    networks = LINKS_SOLVED // links
    filled: list[Refusal] = []
    stopped = False
    for index, refusal in enumerate(plan.unserved):
        stopped = stopped or over()
        if stopped or index >= reasoned_about:
            filled.append(_unreasoned(refusal, stopped=stopped))
            continue
        share = -(-networks // (len(searched) - index)) if index < len(searched) else 0
        effort = Effort(TRIES, share * links, over)
        filled.append(refused(ground, plan, refusal, effort if share else None))
        networks -= share - effort.links_solved // links
    return plan.model_copy(update={"unserved": tuple(filled), "reproducible": plan.reproducible and not over()})


def _unreasoned(refusal: Refusal, *, stopped: bool) -> Refusal:
    """A link whose reasons were not looked for: there are too many that are not served, or the work was `stopped` before."""
    found = refusal.model_copy(update={"cut_short": True})
    return found.model_copy(update={"text": stopped_text(found) if stopped else refusal_text(found)})


def effort_for_one(network: Network) -> Effort:
    """What may be done for a link that is asked for by name."""
    return Effort(TRIES_OF_ONE, min(LINKS_SOLVED_OF_ONE, NETWORKS_OF_ONE * max(len(network.wanted), 1)))


def refused(ground: Ground, plan: Plan, refusal: Refusal, effort: Effort | None) -> Refusal:
    """The refusal of one link with its facts and text, and with what would help where that may be searched."""
    found, candidates = reasoned(ground, plan, refusal)
    update: dict[str, object] = {}
    if effort is not None and refusal.kind != "not-proven":
        nearest = [] if candidates.passing else candidates.nearest()
        help_found = help_for(ground, plan, refusal.id, proposals(candidates, nearest, found.conflict), effort, crowded=bool(candidates.passing))
        update = {
            "fixes": help_found.fixes,
            "more_fixes": help_found.more,
            "fixes_searched": True,
            "cut_short": found.cut_short or help_found.cut,
            "serving": help_found.serving,
            "missing_part": help_found.part,
        }
    found = found.model_copy(update=update)
    return found.model_copy(update={"text": refusal_text(found)})
