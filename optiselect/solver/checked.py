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
from optiselect.solver.alike import Lights, breaches_in_light
from optiselect.solver.appraise import values_that_differ
from optiselect.solver.assemble import told_link
from optiselect.solver.audit import Refitter, finding_of, findings_together


class CheckedLink(NamedTuple):
    """A link of a plan: as the check fitted it, what was found, and its row with all that is told."""

    fitted: FittedLink
    findings: tuple[Finding, ...]
    told: PlannedLink


def check_links(
    rows: Iterable[PlannedLink], network: Network, catalog: Catalog, policy: Policy, paths_of: Mapping[str, tuple[Path, ...]] | None = None
) -> dict[str, CheckedLink]:
    """Every rule of a single link on the rows of a plan, by link; `paths_of`: as of `Refitter`."""
    refitter = Refitter(network, catalog, policy, paths_of)
    fitted: list[FittedLink] = []
    told: list[PlannedLink] = []

    def worked_out() -> Iterator[tuple[FittedLink, Lights]]:
        """Each link with its light; its row with the arithmetic is made on the way, so that neither light nor bare row is kept."""
        for row in rows:
            link = refitter.link(row)
            lights = directions_of(link)
            fitted.append(link)
            told.append(told_link(row, link, lights, ()))
            yield link, lights

    found: dict[str, list[Finding]] = defaultdict(list)
    for link, breach in breaches_in_light(worked_out()):
        found[link.asked.link.id].append(finding_of(breach, link.asked.link.id, link.asked.waived))
    checked = {}
    for link, row in zip(fitted, told, strict=True):
        findings = tuple(found.get(row.id, ()))
        checked[row.id] = CheckedLink(link, findings, told_link(row, link, directions_of(link), findings) if findings else row)
    return checked


def check_plan(plan: Plan, links: Iterable[CheckedLink], network: Network, catalog: Catalog, policy: Policy) -> list[Finding]:
    """What is found on a plan in all, with the rules of the whole network; its rows must be those of the checked links, in order.

    Raises:
        PlanCheckError: when the plan breaks a rule, or an objective has another value than the documents give: a fault of this library.
    """
    links = tuple(links)
    findings = [finding for link in links for finding in link.findings]
    findings += findings_together(plan, tuple(link.fitted for link in links), network, catalog, policy)
    wrong: list[object] = [finding for finding in findings if not finding.unknown and not finding.waived]
    wrong += values_that_differ(plan, network, catalog, policy, findings)
    if wrong:
        raise PlanCheckError(wrong)
    return findings
