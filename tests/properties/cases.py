"""Small networks as plain data, to be changed, and what there is to say of the plans before and after."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.plan import Plan
from optiselect.model.policy import Policy
from optiselect.solver.solve import solve_bare
from tests.solver.families import case as family_case

Data = dict[str, Any]
MORE_IS_BETTER = ("critical_links", "links")
PART_KINDS = ("modules", "converters", "cords", "attenuators")


@dataclass
class Case:
    """Network, catalog and policy as they would be written down."""

    network: Data
    catalog: Data
    policy: Data

    @classmethod
    def numbered(cls, number: int) -> Case:
        return cls(*(as_written(document) for document in family_case(number)))

    def copy(self) -> Case:
        return copy.deepcopy(self)

    def plan(self) -> Plan:
        return solve_bare(Network(**self.network), Catalog(**self.catalog), Policy(**self.policy))

    @property
    def fibers(self) -> list[Data]:
        """The runs that are of fiber."""
        return [run for run in self.network["runs"] if "fiber" in run]

    @property
    def parts(self) -> Iterator[Data]:
        """Everything of the catalog."""
        for kind in PART_KINDS:
            yield from self.catalog.get(kind, ())

    @property
    def optics(self) -> Iterator[Data]:
        """Every transceiver: of modules, of converters, of ports."""
        yield from self.catalog["modules"]
        yield from (row["optic"] for row in self.catalog.get("converters", ()) if row.get("optic"))
        yield from (port["optic"] for device in self.network["devices"] for port in device["ports"] if "optic" in port)


def as_written(document: Document) -> Data:
    """A document as plain data: what it states and no more."""
    return document.model_dump(mode="json", exclude_unset=True, by_alias=True)


def values(plan: Plan) -> dict[str, float]:
    """Every objective by name."""
    return {row.name: row.value for row in plan.objective}


def judged(plan: Plan) -> tuple[float, ...]:
    """The objectives in order; less is better."""
    return tuple(-row.value if row.name in MORE_IS_BETTER else row.value for row in plan.objective)


def impossible(plan: Plan) -> set[str]:
    """The links that could not be served even alone."""
    return {refusal.id for refusal in plan.unserved if refusal.kind == "impossible"}


def unchanged(plan: Plan) -> tuple[object, ...]:
    """All that a reader acts upon: what is fitted where, what is bought, what is not served."""
    return plan.status, plan.objective, plan.links, plan.parts, [(refusal.id, refusal.kind) for refusal in plan.unserved]
