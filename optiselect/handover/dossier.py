"""A plan together with the documents that it was made from: what every paper is drawn from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from optiselect.errors import MismatchError
from optiselect.handover.margins import Bar, bars_of
from optiselect.handover.strands import StrandUse, hand_out
from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.document import Document
from optiselect.model.fingerprint import hash_of
from optiselect.model.network import Network
from optiselect.model.plan import Finding, Plan, PlannedLink
from optiselect.model.policy import Policy
from optiselect.rules.fitted import FittedLink
from optiselect.rules.served import Taken, kept_ports, taken_by, units_of
from optiselect.solver.alike import breaches_of_links
from optiselect.solver.audit import Refitter, finding_of
from optiselect.solver.named import faults_of_bill, names_of_plan_exist


@dataclass(frozen=True)
class Dossier:
    """A plan with its network, catalog and policy; made by `dossier`, which sees that they belong together."""

    plan: Plan
    network: Network
    catalog: Catalog
    policy: Policy

    @property
    def title(self) -> str:
        """The name of the network, or a word for it."""
        return self.network.name or self.plan.network or "Network"

    @cached_property
    def served(self) -> tuple[tuple[PlannedLink, FittedLink], ...]:
        """Each served link as the plan states it and with both ends fitted, by id."""
        refitter = Refitter(self.network, self.catalog, self.policy)
        return tuple((planned, refitter.link(planned)) for planned in sorted(self.plan.links, key=lambda link: link.id))

    @cached_property
    def strands(self) -> dict[str, dict[int, StrandUse]]:
        """By run, which strand carries which direction of which link."""
        return hand_out(self.served, self.network)

    @cached_property
    def bars(self) -> tuple[Bar, ...]:
        """The light at every receiver, the least margin first."""
        return bars_of(self.served)

    @cached_property
    def findings(self) -> dict[str, tuple[Finding, ...]]:
        """What the rules find on each served link as it is planned; in a plan that was not changed by hand, waived and unknown ones only."""
        found: dict[str, list[Finding]] = {planned.id: [] for planned, _ in self.served}
        for link, breach in breaches_of_links(fitted for _, fitted in self.served):
            found[link.asked.link.id].append(finding_of(breach, link.asked.link.id, link.asked.waived))
        return {link_id: tuple(findings) for link_id, findings in found.items()}

    @cached_property
    def broken(self) -> tuple[Finding, ...]:
        """Rules that the plan breaks on a link and that nobody waived: none, unless it was changed by hand."""
        return tuple(finding for found in self.findings.values() for finding in found if not finding.unknown and not finding.waived)

    @cached_property
    def faults_of_bill(self) -> tuple[str, ...]:
        """Where the bill is not that of the links: nowhere, unless the plan was changed by hand."""
        return tuple(faults_of_bill(self.plan))

    @cached_property
    def link_cautions(self) -> tuple[tuple[str, str], ...]:
        """The cautions of links, each with the id of its link, in the order of the plan."""
        opening = "caution: "
        return tuple((link.id, note.removeprefix(opening)) for link in self.plan.links for note in link.notes if note.startswith(opening))

    @cached_property
    def units(self) -> Mapping[str, int]:
        """Part number to units fitted."""
        return units_of(fitted for _, fitted in self.served)

    @cached_property
    def taken(self) -> tuple[Taken, ...]:
        """What each served link takes of what links share, by id."""
        return tuple(taken_by(fitted) for _, fitted in self.served)

    @cached_property
    def links_with(self) -> dict[str, list[FittedLink]]:
        """By part number the links that have such a part at an end, by id."""
        found: dict[str, list[FittedLink]] = {}
        for _, fitted in self.served:
            parts = [part.part for end in fitted.ends for part in (end.module, end.converter, end.cord, end.attenuator) if part is not None]
            for part in dict.fromkeys(parts):
                found.setdefault(part, []).append(fitted)
        return found

    @cached_property
    def kept(self) -> frozenset[str]:
        """The ports whose installed module stays."""
        return kept_ports(self.taken)

    @cached_property
    def items(self) -> dict[str, Module | Converter | Cord | Attenuator]:
        """Everything of the catalog by part number."""
        return {**self.catalog.module_by_part, **self.catalog.converter_by_part, **self.catalog.cord_by_part, **self.catalog.attenuator_by_part}

    @cached_property
    def _strands_by_link(self) -> dict[tuple[str, str], tuple[int, ...]]:
        found: dict[tuple[str, str], list[int]] = {}
        for run_id, uses in self.strands.items():
            for number in sorted(uses):
                found.setdefault((uses[number].link, run_id), []).append(number)
        return {key: tuple(numbers) for key, numbers in found.items()}

    def strands_of(self, link_id: str, run_id: str) -> tuple[int, ...]:
        """The strands of a run that a link uses, in order."""
        return self._strands_by_link.get((link_id, run_id), ())


def dossier(plan: Plan, network: Network, catalog: Catalog, policy: Policy | None = None) -> Dossier:
    """Put a plan together with its documents.

    Args:
        plan: the plan.
        network: that it was made from. catalog: likewise. policy: likewise; omitted = all defaults.

    Raises:
        MismatchError: when one of them is not what the plan was made from.
        UnknownNameError: when the plan names a link, run, port or part that they have not.
    """
    policy = policy or Policy()
    documents: dict[str, Document] = {"network": network, "catalog": catalog, "policy": policy}
    stated: Mapping[Any, str] = plan.hashes
    other = [name for name, document in documents.items() if stated.get(name) != hash_of(document)]
    if other:
        raise MismatchError(other)
    names_of_plan_exist(plan, network, catalog)
    return Dossier(plan, network, catalog, policy)
