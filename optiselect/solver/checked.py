"""The finished plan under the independent check; links of which the same was checked before, on the same documents, are not asked again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from optiselect.errors import PlanCheckError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from optiselect.model.plan import Finding, Plan, PlannedLink
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink, Path
from optiselect.rules.light import directions_of
from optiselect.rules.served import Taken, taken_by
from optiselect.solver.alike import Lights, breaches_in_light
from optiselect.solver.appraise import values_that_differ
from optiselect.solver.assemble import told_link
from optiselect.solver.audit import Refitter, finding_of, findings_together


class CheckedLink(NamedTuple):
    """A link of a plan: what it takes of what links share, what was found, and its row with all that is told."""

    taken: Taken
    findings: tuple[Finding, ...]
    told: PlannedLink


def check_links(
    rows: Iterable[PlannedLink], network: Network, catalog: Catalog, policy: Policy, paths_of: Mapping[str, tuple[Path, ...]] | None = None
) -> dict[str, CheckedLink]:
    """Every rule of a single link on the rows of a plan, by link; `paths_of`: as of `Refitter`."""
    refitter = Refitter(network, catalog, policy, paths_of)
    taken: list[Taken] = []
    told: list[PlannedLink] = []

    def worked_out() -> Iterator[tuple[FittedLink, Lights]]:
        """Each link with its light; its row with the arithmetic is made on the way, so that neither it, its light nor the bare row is kept."""
        for row in rows:
            link = refitter.link(row)
            lights = directions_of(link)
            taken.append(taken_by(link))
            told.append(told_link(row, link, lights, ()))
            yield link, lights

    found: dict[int, list[Finding]] = defaultdict(list)
    for place, breach in breaches_in_light(worked_out(), lambda place: refitter.link(told[place])):
        found[place].append(finding_of(breach, told[place].id, policy.waived_on(told[place].id)))
    for place, findings in found.items():
        row = told[place]
        link = refitter.link(row)
        told[place] = told_link(row, link, directions_of(link), findings)
    return {row.id: CheckedLink(its, tuple(found.get(place, ())), row) for place, (its, row) in enumerate(zip(taken, told, strict=True))}


def check_plan(plan: Plan, links: Iterable[CheckedLink], network: Network, catalog: Catalog, policy: Policy, used: Mapping[str, int]) -> list[Finding]:
    """What is found on a plan in all, with the rules of the whole network; its rows must be those of the checked links, in order.

    `used`: the `fitted_units` of its rows.

    Raises:
        PlanCheckError: when the plan breaks a rule, or an objective has another value than the documents give: a fault of this library.
    """
    links = tuple(links)
    findings = [finding for link in links for finding in link.findings]
    findings += findings_together(plan, tuple([link.taken for link in links]), network, catalog, policy, used)
    wrong: list[object] = [finding for finding in findings if not finding.unknown and not finding.waived]
    wrong += values_that_differ(plan, network, catalog, policy, findings, used)
    if wrong:
        raise PlanCheckError(wrong)
    return findings
