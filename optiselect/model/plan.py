"""What comes out: a module for every port end, the arithmetic behind it, and what could not be served."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import Field

from optiselect.model.document import Document, Figures, Id, Noun, Text, Told, YesNo
from optiselect.model.refusal import Count, Fact, Figure, Fitting, Kind, PlannedEnd, Refusal, Tally
from optiselect.model.terms import Rate, RuleId

if TYPE_CHECKING:
    from pathlib import Path

    import pandas

    from optiselect.handover.hand_over import HandedOver
    from optiselect.handover.remeasured import Remeasured
    from optiselect.handover.sheet import Sheet
    from optiselect.model.catalog import Catalog
    from optiselect.model.network import Network
    from optiselect.model.policy import Policy

__all__ = ["Direction", "Fact", "Finding", "Fitting", "Kind", "ObjectiveValue", "PartLine", "Plan", "PlannedEnd", "PlannedLink", "Proof", "Refusal", "Tally"]


PlanObjective = Literal["critical_links", "links", "unknowns", "part_numbers", "cost", "strands", "modules", "changes"]
"""What a plan is best in, one after another."""


class Direction(Noun):
    """The light in one direction. Losses in dB, powers in dBm; null where a figure is unknown."""

    from_: Annotated[str, Field(alias="from")]
    to: str
    wavelength_nm: tuple[Figure, Figure] | None = None
    loss_min_db: Figure | None = None
    loss_max_db: Figure | None = None
    available_db: Figure | None = None
    margin_db: Figure | None = None
    rx_dbm: tuple[Figure | None, Figure | None] | None = None
    limited_by: RuleId | None = None


class PlannedLink(Noun):
    """A served link."""

    id: Id
    rate: Rate
    over: tuple[Id, ...]
    strands: Figures[Id, Count] = Figures()
    ends: tuple[PlannedEnd, PlannedEnd]
    directions: tuple[Direction, ...] = ()
    notes: tuple[Told, ...] = ()


PartKind = Literal["module", "converter", "cord", "attenuator"]


class PartLine(Noun):
    """A line of the bill: `order` is what to buy (used and spared, less what is already in place)."""

    part: Id
    kind: PartKind
    used: Count
    spares: Count
    order: Count
    unit_price: Figure | None
    total: Figure


class ObjectiveValue(Noun):
    """An objective with its value in the plan and the best value that is proven to be possible."""

    name: PlanObjective
    value: Figure
    bound: Figure

    @property
    def proven(self) -> bool:
        """Whether nothing better is possible."""
        return self.value == self.bound


class Proof(Noun):
    """Who proved each objective, and who confirmed it (null: nobody was asked).

    `confirmed_objectives`: those of which something independent of the search says the same, also where nobody was asked: everything is served
    that can be, nothing is less than nothing, or a plain enumeration finds no fewer part numbers.
    """

    by: tuple[str, ...] = ()
    confirmed: YesNo | None = None
    confirmed_by: tuple[str, ...] = ()
    confirmed_objectives: tuple[PlanObjective, ...] = ()


class Finding(Noun):
    """A rule that does not hold at a place, or that cannot be checked because a figure is missing (`unknown`)."""

    rule: RuleId
    link: Id | None = None
    path: str = ""
    required: Figure | str | None = None
    available: Figure | str | None = None
    unit: str = ""
    unknown: YesNo = False
    waived: YesNo = False
    text: Told = ""

    def __str__(self) -> str:
        return f"{self.rule}: {self.text}"

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.finding_html(self)


class Plan(Document):
    """A checked plan. `optimal`: proven best on every objective; `feasible`: good, but not proven (see the bounds)."""

    format_name: ClassVar[str] = "optiselect-plan"
    what: ClassVar[str] = "plan"

    format_: Annotated[Literal["optiselect-plan/1"], Field(alias="format")] = "optiselect-plan/1"
    network: Text = ""
    catalog: Text = ""
    currency: str = ""
    status: Literal["optimal", "feasible"]
    reproducible: YesNo = True
    proof: Proof = Proof()
    objective: tuple[ObjectiveValue, ...] = ()
    links: tuple[PlannedLink, ...] = ()
    unserved: tuple[Refusal, ...] = ()
    parts: tuple[PartLine, ...] = ()
    notes: tuple[Told, ...] = ()
    cautions: tuple[Told, ...] = ()
    hashes: Figures[Literal["network", "catalog", "policy"], str] = Figures()

    def frame(self, table: Literal["links", "ends", "directions", "parts", "unserved"]) -> pandas.DataFrame:
        """Return one table of the plan as a tidy pandas DataFrame, units in the column names.

        Raises:
            UnknownNameError: when there is no table of that name.
        """
        from optiselect.handover import frames  # pandas is loaded there, only when asked for

        return frames.frame(self, table)

    def hand_over(self, folder: str | Path, network: Network, catalog: Catalog, policy: Policy | None = None) -> HandedOver:
        """Write all papers of the plan into a folder (see `handover.hand_over`).

        Args:
            folder: where to write; it is made when it is not there.
            network: that the plan was made from. catalog: likewise. policy: likewise; omitted = all defaults.

        Raises:
            MismatchError: when a document is not the one that the plan was made from.
            OptiselectError: when the folder or a file cannot be written.
        """
        from optiselect.handover import hand_over

        return hand_over.hand_over(self, folder, network, catalog, policy)

    def paper(self, name: str, network: Network, catalog: Catalog, policy: Policy | None = None) -> Sheet:
        """Draw one paper: bill, ports, cords, strands, limits, labels, spares, cautions or questions.

        Returns:
            The paper as a table, with ``csv()``, ``frame()`` and ``records()``.

        Raises:
            MismatchError: when a document is not the one that the plan was made from.
            UnknownNameError: when there is no paper of that name.
        """
        from optiselect.handover import dossier, papers

        return papers.paper(dossier.dossier(self, network, catalog, policy), name)

    def read_back(self, sheet: str | Path, network: Network, catalog: Catalog, policy: Policy | None = None) -> Remeasured:
        """Take back the acceptance sheet, filled in: put its readings into the network, plan again, and say what changed.

        Args:
            sheet: the workbook of the papers, or the CSV of the acceptance sheet.
            network: that the plan was made from. catalog: likewise. policy: likewise; omitted = all defaults.

        Raises:
            DocumentError: with every cell that cannot be used.
            MismatchError: when a document is not the one that the plan was made from.
        """
        from optiselect.handover import remeasured

        return remeasured.read_back(self, sheet, network, catalog, policy)

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.plan_html(self)
