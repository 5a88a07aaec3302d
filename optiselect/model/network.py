"""The network as the user states it: sites, devices with their ports, panels, runs and the links that are wanted."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, TypeAdapter, ValidationError, WithJsonSchema, model_validator

from optiselect.errors import DocumentError, Fault
from optiselect.model.agreement import faults_between
from optiselect.model.catalog import Optics
from optiselect.model.document import AS_INTEGER, AS_NUMBER, Document, Figures, Id, Noun, Text, YesNo
from optiselect.model.terms import Category, Connector, Form, Grade, Medium, Polish, Rate

if TYPE_CHECKING:
    import networkx

Celsius = Annotated[float, Field(ge=-90, le=150), AS_NUMBER]
Metres = Annotated[float, Field(ge=0, le=1_000_000), AS_NUMBER]
Decibel = Annotated[float, Field(ge=0, le=200), AS_NUMBER]


def _plain_wavelength(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    if not re.fullmatch(r"[0-9]{3,4}(\.[0-9]{1,6})?", value):
        raise ValueError(f"a wavelength in nm is due here, not {str(value)[:40]!r}")
    return float(value)


_WAVELENGTH_TEXT = {"type": "string", "pattern": r"^(([4-9][0-9]{2}|1[0-9]{3})(\.[0-9]{1,6})?|2000(\.0{1,6})?)$"}
Nanometre = Annotated[float, Field(ge=400, le=2000), BeforeValidator(_plain_wavelength), WithJsonSchema(_WAVELENGTH_TEXT)]
"""A wavelength as the name of a figure."""
PortRef = Annotated[str, Field(min_length=1, max_length=40_000, pattern=r"^[^/]+(/[^/]+)?$")]
"""A device, or device/port to pin the port."""

_MAX_PORTS_A_LIST = 4096
_MAX_TEXT_A_LIST = 64 * _MAX_PORTS_A_LIST
_FEW_ENTRIES = 4
"""So many are looked through sooner than put into a dict."""


@lru_cache(maxsize=256)  # a network writes few different lists, many times
def expand_ids(ids: str) -> tuple[str, ...]:
    """Expand a list of port ids: ``1-4``, ``a1-a4``, ``1,3-5``.

    Raises:
        ValueError: when a range is not of one prefix, runs backwards, or the list is too long.
    """
    return tuple(name for prefix, numbers, width in _pieces(ids) for name in ([f"{prefix}{number:0{width}d}" for number in numbers] or [prefix]))


@lru_cache(maxsize=256)
def _pieces(ids: str) -> tuple[tuple[str, range, int], ...]:
    """The pieces of a list of port ids, each as prefix, numbers and their least width; a single name is a prefix without numbers."""
    pieces: list[tuple[str, range, int]] = []
    for piece in map(str.strip, ids.split(",")):
        span = re.fullmatch(r"(\D*)(\d{1,6})-(\D*)(\d{1,6})", piece)
        if span is None:
            pieces.append((piece, range(0), 0))
            continue
        prefix, first, prefix_2, last = span.groups()
        if prefix_2 not in ("", prefix) or int(last) < int(first):
            raise ValueError(f"ids: {piece!r} is not a range; write for example 1-4 or a1-a4")
        pieces.append((prefix, range(int(first), int(last) + 1), len(first) if first.startswith("0") else 0))
    if sum(len(numbers) or 1 for _, numbers, _ in pieces) > _MAX_PORTS_A_LIST:
        raise ValueError(f"ids: more than {_MAX_PORTS_A_LIST} ports")
    if sum(len(prefix) * len(numbers) for prefix, numbers, _ in pieces) > _MAX_TEXT_A_LIST:
        raise ValueError(f"ids: the names of these ports have more than {_MAX_TEXT_A_LIST} characters together")
    if any("/" in prefix or not (prefix or numbers) for prefix, numbers, _ in pieces):
        raise ValueError("ids: a port id is non-empty text without '/'")
    return tuple(pieces)


class Site(Noun):
    """A place with one climate. `ambient_c` is the air around the device, in its enclosure; `building` is its earthing zone."""

    id: Id
    name: Text | None = None
    ambient_c: tuple[Celsius, Celsius] | None = None
    building: Id | None = None
    outdoor: YesNo = False

    @model_validator(mode="after")
    def _range_is_ordered(self) -> Self:
        if self.ambient_c and self.ambient_c[0] > self.ambient_c[1]:
            raise ValueError("ambient_c: write [low, high]")
        return self

    @property
    def zone(self) -> str:
        """The earthing zone; a site that names no building is a zone of its own."""
        return f"building {self.building}" if self.building is not None else f"site {self.id}"


class _Port(Noun):
    id: Id | None = None
    ids: Annotated[str, Field(min_length=1, max_length=20_000)] | None = None

    @model_validator(mode="after")
    def _one_name(self) -> Self:
        if (self.id is None) == (self.ids is None):
            raise ValueError("give either id, or ids for several ports that are alike")
        self._count_as_stated("kind")  # a document always does: it tells the four kinds of port apart
        if self.ids is not None:
            _pieces(self.ids)  # expanded only after the ports of all devices have been counted
        return self

    @property
    def names(self) -> tuple[str, ...]:
        """The port ids that this entry stands for."""
        return (self.id,) if self.id is not None else expand_ids(self.ids or "")


class Cage(_Port):
    """An empty socket for a pluggable module. `media` omitted = any; `module_power_w` omitted = the form's usual power."""

    kind: Literal["cage"] = "cage"
    form: Form
    rates: Annotated[tuple[Rate, ...], Field(min_length=1)]
    module_power_w: Annotated[float, Field(gt=0, le=100), AS_NUMBER] | None = None
    media: tuple[Medium, ...] | None = None


class FixedOptic(_Port):
    """A soldered transceiver; `optic` gives its figures, or its standard, or a part number of the catalog."""

    kind: Literal["fixed"] = "fixed"
    optic: Optics


class SharedPort(_Port):
    """One port with two sockets, a copper socket and a cage, of which one is used at a time."""

    kind: Literal["shared"] = "shared"
    form: Form
    rates: Annotated[tuple[Rate, ...], Field(min_length=1)]
    copper_rates: Annotated[tuple[Rate, ...], Field(min_length=1)]
    module_power_w: Annotated[float, Field(gt=0, le=100), AS_NUMBER] | None = None
    media: tuple[Medium, ...] | None = None


class CopperPort(_Port):
    """A copper socket."""

    kind: Literal["copper"] = "copper"
    rates: Annotated[tuple[Rate, ...], Field(min_length=1)]


Port = Annotated[Cage | FixedOptic | SharedPort | CopperPort, Field(discriminator="kind")]


class Device(Noun):
    """A device with ports. `accepts`: module codings that it takes; `module_power_w`: for all its modules together."""

    id: Id
    name: Text | None = None
    site: Id | None = None
    accepts: tuple[Id, ...] | None = None
    module_power_w: Annotated[float, Field(gt=0, le=10_000), AS_NUMBER] | None = None
    ports: tuple[Port, ...] = ()

    def port(self, port_id: str) -> Cage | FixedOptic | SharedPort | CopperPort:
        """The port entry of a port id.

        Raises:
            KeyError: when the device has no such port.
        """
        if len(self.ports) > _FEW_ENTRIES:
            return self.port_by_id[port_id]
        for port in self.ports:
            if port_id == port.id or (port.ids is not None and port_id in port.names):
                return port
        raise KeyError(port_id)

    @cached_property
    def port_by_id(self) -> dict[str, Cage | FixedOptic | SharedPort | CopperPort]:
        """Port entries by port id."""
        return {name: port for port in self.ports for name in port.names}


class Panel(Noun):
    """A passive joint: patch panel or splice closure."""

    id: Id
    name: Text | None = None
    site: Id | None = None


def _both_ends(value: Any) -> Any:
    return (value, value) if isinstance(value, str) else value


class Fiber(Noun):
    """A run of fiber. What its two ends present (`connectors`, `polish`) follows the run's `ends`.

    `measured_loss_db`: by wavelength (nm), end to end, replaces the computed loss. `attenuation_db_km` replaces the
    table's maximum. `modal_bandwidth_mhz_km`: measured or printed, by wavelength.
    """

    grade: Grade
    length_m: Metres
    strands: Annotated[int, Field(ge=0, le=100_000), AS_INTEGER]
    strands_in_use: Annotated[int, Field(ge=0, le=100_000), AS_INTEGER] = 0
    connectors: tuple[Connector, Connector] | None = None
    polish: Annotated[tuple[Polish, Polish] | None, BeforeValidator(_both_ends, json_schema_input_type=Polish | tuple[Polish, Polish] | None)] = None
    connections: Annotated[int, Field(ge=0, le=1000), AS_INTEGER] | None = None
    splices: Annotated[int, Field(ge=0, le=10_000), AS_INTEGER] = 0
    measured_loss_db: Figures[Nanometre, Decibel] | None = None
    modal_bandwidth_mhz_km: Figures[Nanometre, Annotated[float, Field(gt=0, le=100_000), AS_NUMBER]] | None = None
    attenuation_db_km: Figures[Nanometre, Annotated[float, Field(gt=0, le=100), AS_NUMBER]] | None = None

    @model_validator(mode="after")
    def _strands_exist(self) -> Self:
        if self.strands_in_use > self.strands:
            raise ValueError(f"strands_in_use: {self.strands_in_use} of {self.strands} strands cannot be in use")
        return self


class Copper(Noun):
    """A run of copper cable; it carries one link."""

    category: Category
    length_m: Metres


class Run(Noun):
    """A cable run between two devices or panels, of fiber or of copper. `routes`: ducts or trenches that runs share."""

    id: Id
    name: Text | None = None
    ends: tuple[Id, Id]
    routes: tuple[Id, ...] = ()
    fiber: Fiber | None = None
    copper: Copper | None = None

    @model_validator(mode="after")
    def _one_medium(self) -> Self:
        if (self.fiber is None) == (self.copper is None):
            raise ValueError("give either fiber or copper")
        if self.ends[0] == self.ends[1]:
            raise ValueError("ends: both ends are at the same place")
        return self

    @property
    def length_m(self) -> float:
        """Length in metres."""
        cable = self.fiber or self.copper
        assert cable is not None  # held by _one_medium
        return cable.length_m


class Link(Noun):
    """A connection that the user wants between two devices (``device``, or ``device/port`` to pin the port)."""

    id: Id
    name: Text | None = None
    ends: tuple[PortRef, PortRef]
    rate: Rate | None = None
    over: Annotated[tuple[Id, ...], Field(min_length=1)] | None = None
    critical: YesNo = False
    weight: Annotated[int, Field(ge=1, le=1_000_000), AS_INTEGER] = 1
    diverse_from: tuple[Id, ...] = ()
    throughput_mbit_s: Annotated[float, Field(gt=0, le=1_000_000), AS_NUMBER] | None = None

    @property
    def devices(self) -> tuple[str, str]:
        """The device ids of the two ends."""
        return self.ends[0].partition("/")[0], self.ends[1].partition("/")[0]

    @property
    def pinned(self) -> tuple[str | None, str | None]:
        """The port ids that the two ends pin, None where any port of the device may serve."""
        return self.ends[0].partition("/")[2] or None, self.ends[1].partition("/")[2] or None


class Network(Document):
    """A whole network: what is there and what is wanted."""

    format_name: ClassVar[str] = "optiselect-network"
    what: ClassVar[str] = "network"

    format_: Annotated[Literal["optiselect-network/1"], Field(alias="format")] = "optiselect-network/1"
    name: Text = ""
    sites: tuple[Site, ...] = ()
    devices: tuple[Device, ...] = ()
    panels: tuple[Panel, ...] = ()
    runs: tuple[Run, ...] = ()
    links: tuple[Link, ...] | None = None
    installed: Figures[Annotated[str, Field(max_length=40_001, pattern=r"^[^/]+/[^/]+$")], Id] = Figures()

    @model_validator(mode="after")
    def _parts_agree(self) -> Self:
        faults = list(faults_between(self.sites, self.devices, self.panels, self.runs, self.links or (), self.installed))
        if faults:
            raise DocumentError(faults, self.what)
        return self

    @classmethod
    def _faults_across(cls, data: Mapping[str, Any]) -> Iterator[Fault]:
        """Cross faults of raw data of which some part failed: what can be read is checked, what cannot is still known by its id."""
        kinds: dict[str, type[Noun]] = {"sites": Site, "devices": Device, "panels": Panel, "runs": Run, "links": Link}
        readable: dict[str, list[Any]] = {}
        hidden: dict[str, dict[int, str]] = {}
        for key, kind in kinds.items():
            adapter = TypeAdapter(kind)
            readable[key], hidden[key] = [], {}
            rows = data.get(key)
            for index, row in enumerate(rows if isinstance(rows, list | tuple) else ()):
                try:
                    readable[key].append(adapter.validate_python(row))
                except ValidationError:
                    readable[key].append(None)
                    if isinstance(row, Mapping) and isinstance(row.get("id"), str):
                        hidden[key][index] = str(row["id"])
        installed = data.get("installed")
        yield from faults_between(
            readable["sites"],
            readable["devices"],
            readable["panels"],
            readable["runs"],
            readable["links"],
            {str(ref): "" for ref in installed} if isinstance(installed, Mapping) else {},
            hidden=hidden,
        )

    @cached_property
    def wanted(self) -> tuple[Link, ...]:
        """The links: those that are stated, or one over each run between two devices when none are stated at all."""
        if self.links is not None:
            return self.links
        return tuple(
            Link(id=run.id, ends=run.ends, over=(run.id,)) for run in self.runs if run.ends[0] in self.device_by_id and run.ends[1] in self.device_by_id
        )

    @cached_property
    def site_by_id(self) -> dict[str, Site]:
        """Sites by id."""
        return {site.id: site for site in self.sites}

    @cached_property
    def device_by_id(self) -> dict[str, Device]:
        """Devices by id."""
        return {device.id: device for device in self.devices}

    @cached_property
    def panel_by_id(self) -> dict[str, Panel]:
        """Panels by id."""
        return {panel.id: panel for panel in self.panels}

    @cached_property
    def run_by_id(self) -> dict[str, Run]:
        """Runs by id."""
        return {run.id: run for run in self.runs}

    @classmethod
    def from_graph(cls, graph: networkx.Graph[Any]) -> Self:
        """Read a networkx graph (see `formats.graph` for the attributes).

        Raises:
            DocumentError: with every fault and the node or edge that it is at.
        """
        from optiselect.formats import graph as graphs

        return graphs.network_from_graph(cls, graph)

    def to_graph(self, *, flat: bool = False) -> networkx.MultiGraph[str]:
        """Return the network as a networkx.MultiGraph that loses nothing; `flat`: attributes as JSON text, for GraphML."""
        from optiselect.formats import graph as graphs

        return graphs.graph_of_network(self, flat=flat)

    def _repr_html_(self) -> str:
        from optiselect.handover import views

        return views.network_html(self)
