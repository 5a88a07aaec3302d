"""What can be bought: modules, media converters, cords and attenuators, with the figures of their data sheets."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema, model_validator

from optiselect.errors import DocumentError, Fault
from optiselect.model.document import AS_INTEGER, AS_NUMBER, Document, Figures, Id, Noun, Strands, Text, YesNo
from optiselect.model.terms import Category, Connector, Core, Form, Grade, LaserClass, Lifecycle, Medium, Mode, Polish, Rate


def _plain_length(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    if not re.fullmatch(r"0|[1-9][0-9]{0,6}", value):
        raise ValueError(f"a length in whole metres is due here, not {str(value)[:40]!r}")
    return int(value)


GradeOrMode = Literal[Grade, Mode]
Dbm = Annotated[float, Field(ge=-80, le=40), AS_NUMBER]
DbmRange = tuple[Dbm, Dbm]
Nm = Annotated[float, Field(ge=400, le=2000), AS_NUMBER]
Window = tuple[Nm, Nm]
LossDb = Annotated[float, Field(ge=0, le=100), AS_NUMBER]
Length = Annotated[float, Field(ge=0, le=1_000_000), AS_NUMBER]
UpToMetres = Annotated[
    int,
    Field(ge=0, le=1_000_000),
    BeforeValidator(_plain_length),
    WithJsonSchema({"type": "string", "pattern": "^(0|[1-9][0-9]{0,5}|1000000)$"}),
]
"""A length in whole metres as the name of a figure."""
Price = Annotated[float, Field(ge=0, le=100_000_000), AS_NUMBER]
Standard = Annotated[str, Field(min_length=1, max_length=60)]


def _mapping_or_plain(value: Any) -> str:
    return "by name" if isinstance(value, Mapping) else "plain"


Powers = Annotated[
    Annotated[DbmRange, Tag("plain")] | Annotated[Figures[Core, DbmRange], Tag("by name")],
    Discriminator(_mapping_or_plain),
]
"""[min, max] in dBm, or the same by core where a launch power depends on it."""
Penalty = Annotated[
    Annotated[LossDb, Tag("plain")] | Annotated[Figures[GradeOrMode, LossDb], Tag("by name")],
    Discriminator(_mapping_or_plain),
]


class FiguresAtRate(Noun):
    """A multi-rate module's own figures at one of its rates; what is not given is as at its other rates."""

    standard: Standard | None = None
    tx_nm: Window | None = None
    rx_nm: Window | None = None
    tx_dbm: Powers | None = None
    rx_dbm: DbmRange | None = None
    penalty_db: Penalty | None = None
    reach_m: Figures[Literal[Grade, Mode, Category], Length] | None = None
    channel_loss_db: Figures[GradeOrMode, LossDb] | None = None
    conditioning: tuple[Grade, ...] | None = None
    dispersion_ps_nm: Annotated[float, Field(ge=0, le=1_000_000), AS_NUMBER] | None = None


class Optics(FiguresAtRate):
    """The figures of a transceiver. What is omitted is filled in from `standard` where that is given, else it is unknown.

    tx_dbm: average launch power [min, max]. rx_dbm: [sensitivity, overload]. temperature_c: case [low, high].
    coding: omitted = open; an empty list = not known.
    """

    part: Id | None = None
    form: Form | None = None
    rates: Annotated[tuple[Rate, ...], Field(min_length=1)] | None = None
    medium: Medium | None = None
    mode: Mode | None = None
    strands: Strands | None = None
    connector: Connector | None = None
    at_rate: Figures[Rate, FiguresAtRate] | None = None
    temperature_c: tuple[Annotated[float, Field(ge=-90, le=200), AS_NUMBER], Annotated[float, Field(ge=-90, le=200), AS_NUMBER]] | None = None
    power_w: Annotated[float, Field(ge=0, le=100), AS_NUMBER] | None = None
    coding: tuple[Id, ...] = ("open",)
    laser_class: LaserClass | None = None
    role: Id | None = None
    pairs_with: Id | None = None
    throughput_mbit_s: Figures[UpToMetres, Annotated[float, Field(ge=0, le=1_000_000), AS_NUMBER]] | None = None
    rx_damage_dbm: Dbm | None = None

    @model_validator(mode="after")
    def _ranges_are_ordered(self) -> Self:
        pairs: list[tuple[str, Any]] = [(key, getattr(self, key)) for key in ("tx_nm", "rx_nm", "temperature_c", "rx_dbm")]
        powers = self.tx_dbm
        pairs += [("tx_dbm", value) for value in (powers.values() if isinstance(powers, Figures) else [powers])]
        for key, pair in pairs:
            if pair and pair[0] > pair[1]:
                raise ValueError(f"{key}: write [low, high]")
        return self


class _Bought(Noun):
    """What every item of a catalog may state for the order."""

    price: Price | None = None
    supplier: Text | None = None
    description: Text | None = None
    lead_time_days: Annotated[int, Field(ge=0, le=10_000), AS_INTEGER] | None = None
    lifecycle: Lifecycle = "active"
    stock: Annotated[int, Field(ge=0, le=100_000_000), AS_INTEGER] | None = None


class Module(Optics, _Bought):
    """A pluggable transceiver that can be ordered. `fit`: failures per 1e9 h; `stock` omitted = not limited."""

    part: Id
    fit: Annotated[float, Field(ge=0, le=10_000_000), AS_NUMBER] | None = None

    @classmethod
    def from_memory(cls, source: bytes | str | Path, *, coding: Iterable[str] = ()) -> Module:
        """The module that a dump of its memory describes (SFF-8472, SFF-8636); what no memory states is left out, and so unknown.

        Args:
            source: a file, or its content: bytes, or a dump of them as text (`optiselect.formats.eeprom.read_memory`).
            coding: the codings that it has, in the words of a network's `accepts`, which no memory says; omitted = unknown.

        Raises:
            DocumentError: with every fault: too short or long, another kind of module, a wrong check code.
        """
        from optiselect.formats.eeprom import read_memory  # the doors from a noun to its file forms, and to the standards
        from optiselect.standards.remembered import module_of

        return module_of(read_memory(source), coding)


class Converter(_Bought):
    """A media converter: copper on one side; on the other a cage (`form`, `rates`) or an optic of its own."""

    part: Id
    copper_rates: Annotated[tuple[Rate, ...], Field(min_length=1)]
    form: Form | None = None
    rates: Annotated[tuple[Rate, ...], Field(min_length=1)] | None = None
    module_power_w: Annotated[float, Field(gt=0, le=100), AS_NUMBER] | None = None
    optic: Optics | None = None
    temperature_c: tuple[Annotated[float, Field(ge=-90, le=200), AS_NUMBER], Annotated[float, Field(ge=-90, le=200), AS_NUMBER]] | None = None
    accepts: tuple[Id, ...] | None = None
    fit: Annotated[float, Field(ge=0, le=10_000_000), AS_NUMBER] | None = None

    @model_validator(mode="after")
    def _one_optical_side(self) -> Self:
        if (self.form is None) == (self.optic is None):
            raise ValueError("give either form (and rates), or optic")
        if self.form is not None and self.rates is None:
            raise ValueError("rates: a converter with a cage needs them")
        return self


class Cord(_Bought):
    """A patch cord. `polish` omitted = flat at both ends. `conditioning`: a mode-conditioning cord for the core of `grade`."""

    part: Id
    grade: Grade
    connectors: tuple[Connector, Connector]
    polish: tuple[Polish, Polish] | None = None
    strands: Strands = 2
    conditioning: YesNo = False
    length_m: Length | None = None


class Attenuator(_Bought):
    """A fixed in-line attenuator."""

    part: Id
    mode: Mode
    connector: Connector
    loss_db: Annotated[float, Field(gt=0, le=60), AS_NUMBER]


class Catalog(Document):
    """Everything that may be chosen from."""

    format_name: ClassVar[str] = "optiselect-catalog"
    what: ClassVar[str] = "catalog"

    format_: Annotated[Literal["optiselect-catalog/1"], Field(alias="format")] = "optiselect-catalog/1"
    name: Text = ""
    currency: Annotated[str, Field(max_length=20)] = ""
    modules: tuple[Module, ...] = ()
    converters: tuple[Converter, ...] = ()
    cords: tuple[Cord, ...] = ()
    attenuators: tuple[Attenuator, ...] = ()

    @model_validator(mode="after")
    def _parts_are_unique(self) -> Self:
        faults = list(_parts_given_twice({key: getattr(self, key) for key in _KINDS}))
        if faults:
            raise DocumentError(faults, self.what)
        return self

    @classmethod
    def _faults_across(cls, data: Mapping[str, Any]) -> Iterator[Fault]:
        yield from _parts_given_twice(data)

    @cached_property
    def module_by_part(self) -> dict[str, Module]:
        """Modules by part number."""
        return {module.part: module for module in self.modules}

    @cached_property
    def converter_by_part(self) -> dict[str, Converter]:
        """Converters by part number."""
        return {converter.part: converter for converter in self.converters}

    @cached_property
    def cord_by_part(self) -> dict[str, Cord]:
        """Cords by part number."""
        return {cord.part: cord for cord in self.cords}

    @cached_property
    def attenuator_by_part(self) -> dict[str, Attenuator]:
        """Attenuators by part number."""
        return {attenuator.part: attenuator for attenuator in self.attenuators}

    @classmethod
    def merge(cls, catalogs: Iterable[Catalog], *, name: str | None = None) -> Catalog:
        """Add up several catalogs into one.

        Raises:
            DocumentError: when two of them give one part number with different figures, or state different currencies.
        """
        several = list(catalogs)
        faults: list[Fault] = []
        currencies = sorted({catalog.currency for catalog in several if catalog.currency})
        if len(currencies) > 1:
            faults.append(Fault("currency", f"prices in {' and '.join(currencies)} cannot be added up"))
        merged: dict[str, dict[str, Any]] = {key: {} for key in _KINDS}
        for catalog in several:
            for key in _KINDS:
                for item in getattr(catalog, key):
                    known = merged[key].setdefault(item.part, item)
                    if known != item:
                        faults.append(Fault(f"{key}: {item.part}", f"catalog {catalog.name!r} gives other figures for a part number that is already there"))
        if faults:
            raise DocumentError(faults, cls.what)
        return cls(
            name=name if name is not None else " + ".join(catalog.name for catalog in several if catalog.name),
            currency=currencies[0] if currencies else "",
            **{key: tuple(items.values()) for key, items in merged.items()},
        )

    @classmethod
    def open_standard(cls) -> Catalog:
        """One generic module for each open-standard PMD, so that a network can be planned before a supplier is chosen."""
        from optiselect.standards.generic import open_standard_catalog  # the standards know the catalog, not the reverse

        return open_standard_catalog()

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.catalog_html(self)


_KINDS = ("modules", "converters", "cords", "attenuators")


def _parts_given_twice(data: Mapping[str, Any]) -> Iterator[Fault]:
    first: dict[str, str] = {}
    for key in _KINDS:
        rows = data.get(key)
        for index, row in enumerate(rows if isinstance(rows, list | tuple) else ()):
            part = row.get("part") if isinstance(row, Mapping) else getattr(row, "part", None)
            if not isinstance(part, str):
                continue
            at = f"{key}[{index}]"
            if part in first:
                yield Fault(f"{at}.part", f"{part!r} is already the part number of {first[part]}")
            first.setdefault(part, at)
