"""How the user wants the network to be served: objectives, allowances, and what may be waived."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator
from pydantic.json_schema import SkipJsonSchema

from optiselect.model.document import AS_INTEGER, AS_NUMBER, Document, Figures, Id, Noun, YesNo
from optiselect.model.terms import WAIVABLE, Grade, LaserClass, Lifecycle, RuleId

Objective = Literal["links", "part_numbers", "cost", "strands", "modules", "changes"]
Allowance = Annotated[float, Field(ge=0, le=50), AS_NUMBER]
AttenuationTable = Literal["ieee-802.3", "iso-11801-1", "tia-568.3", "itu-g.652.d"]
WindowNm = Annotated[str, Field(pattern=r"^[0-9]{3,4}-[0-9]{3,4}$")]
DbKm = Annotated[float, Field(gt=0, le=100), AS_NUMBER]


class Spares(Noun):
    """Spares on the shelf: the least k with P(failures <= k) >= service_level until a unit is restocked (exact Poisson)."""

    service_level: Annotated[float, Field(gt=0, lt=1), AS_NUMBER] = 0.95
    restock_days: Annotated[float, Field(gt=0, le=36_500), AS_NUMBER] = 30.0


class Waiver(Noun):
    """A rule that a person answers for on one link; never what physics or the socket refuses."""

    rule: RuleId
    link: Id
    reason: str | None = None

    @model_validator(mode="after")
    def _may_be_waived(self) -> Self:
        if self.rule not in WAIVABLE:
            raise ValueError(f"rule: {self.rule} cannot be waived; a person may answer for {', '.join(WAIVABLE)}")
        return self


class Policy(Document):
    """All have defaults; state what differs.

    rules: extra predicates of the user, Python only: each is called with the facts of a link with both ends fitted
    (`rules.fitted.FittedLink`) and answers True when it may stand. They are never read from a document.
    effort: deterministic work for the search; the same cut-off gives the same plan on any machine.
    """

    format_name: ClassVar[str] = "optiselect-policy"
    what: ClassVar[str] = "policy"

    format_: Annotated[Literal["optiselect-policy/1"], Field(alias="format")] = "optiselect-policy/1"
    objective: Annotated[tuple[Objective, ...], Field(min_length=1)] = ("links", "part_numbers", "cost", "strands")
    design_margin_db: Allowance = 3.0
    repair_allowance_db: Allowance = 0.0
    connection_loss_db: Allowance = 0.75
    splice_loss_db: Allowance = 0.3
    attenuation: AttenuationTable | Figures[Grade, Figures[WindowNm, DbKm]] = "ieee-802.3"
    temperature_rise_c: Annotated[float, Field(ge=0, le=80), AS_NUMBER] = 15.0
    allow_attenuators: YesNo = True
    allow_hybrid_cords: YesNo = True
    allow_converters: YesNo = True
    copper_between_buildings: YesNo = False
    spares: Spares | None = None
    keep_installed: Literal["no", "prefer", "must"] = "no"
    exclude_parts: tuple[Id, ...] = ()
    prefer_parts: tuple[Id, ...] = ()
    lifecycles: tuple[Lifecycle, ...] = ("active",)
    laser_classes: tuple[LaserClass, ...] = ("1",)
    reserve_strands: Annotated[int, Field(ge=0, le=100_000), AS_INTEGER] = 0
    waivers: tuple[Waiver, ...] = ()
    rules: Annotated[SkipJsonSchema[tuple[Callable[[Any], bool], ...]], Field(exclude=True)] = ()
    effort: Annotated[float, Field(gt=0, le=1_000_000), AS_NUMBER] = 300.0
    time_limit_s: Annotated[float, Field(gt=0, le=1_000_000), AS_NUMBER] = 60.0
    confirm: Literal["none", "second-configuration", "second-solver"] = "none"
    seed: Annotated[int, Field(ge=0, le=2_000_000_000), AS_INTEGER] = 1
    workers: Annotated[int, Field(ge=1, le=256), AS_INTEGER] = 1

    @model_validator(mode="after")
    def _objective_is_usable(self) -> Self:
        if len(set(self.objective)) != len(self.objective):
            raise ValueError("objective: each name once")
        if self.objective[0] != "links":
            raise ValueError("objective: links comes first; to serve fewer links is never worth a saving")
        return self

    def waived_on(self, link_id: str) -> frozenset[str]:
        """The rules that a person answers for on a link."""
        return self._waived.get(link_id, _NOTHING)

    @cached_property
    def _waived(self) -> dict[str, frozenset[str]]:
        rules: dict[str, set[str]] = defaultdict(set)
        for waiver in self.waivers:
            rules[waiver.link].add(waiver.rule)
        return {link_id: frozenset(waived) for link_id, waived in rules.items()}


_NOTHING: frozenset[str] = frozenset()
