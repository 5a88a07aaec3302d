"""The three documents of a variant while its edits are applied: only what an edit touches is built and validated anew."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import ValidationError

from optiselect.errors import DocumentError, Fault
from optiselect.model.catalog import Attenuator, Catalog, Converter, Cord, Module
from optiselect.model.document import Document, Noun
from optiselect.model.network import Device, Link, Network, Panel, Run, Site
from optiselect.model.policy import Policy
from optiselect.model.wording import faults_of
from optiselect.study.case import Case

NETWORK_KINDS: dict[str, type[Noun]] = {"sites": Site, "devices": Device, "panels": Panel, "runs": Run, "links": Link}
PART_KINDS: dict[str, type[Noun]] = {"modules": Module, "converters": Converter, "cords": Cord, "attenuators": Attenuator}
KINDS = NETWORK_KINDS | PART_KINDS


class Draft:
    """A case under edit. Items are kept by kind and id; a document that nothing touches stays the very same object."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._items: dict[str, dict[str, Any]] = {}
        self._changed: set[str] = set()
        self._installed = dict(case.network.installed)
        self.policy = case.policy

    def items(self, kind: str) -> dict[str, Any]:
        """The items of a kind by id; links that are not stated are those that follow from the runs."""
        if kind not in self._items:
            network, catalog = self._case.network, self._case.catalog
            found = network.wanted if kind == "links" else getattr(network if kind in NETWORK_KINDS else catalog, kind)
            self._items[kind] = {_id_of(item): item for item in found}
        return self._items[kind]

    @property
    def installed(self) -> dict[str, str]:
        """Part numbers by device/port."""
        return self._installed

    def put(self, kind: str, stated: dict[str, Any]) -> None:
        """Add an item, or put it in the place of the one of its id.

        Raises:
            DocumentError: when it is not a usable item.
        """
        item = built(KINDS[kind], kind, stated)
        self.items(kind)[_id_of(item)] = item
        self._changed.add(kind)

    def put_policy(self, stated: dict[str, Any]) -> None:
        """Replace the policy, keeping rules of the user's own.

        Raises:
            DocumentError: when it is not a usable policy.
        """
        try:
            self.policy = Policy(**stated, **({"rules": self.policy.rules} if self.policy.rules else {}))
        except DocumentError as error:
            raise DocumentError([Fault(f"policy.{fault.path}", fault.message) for fault in error.faults], "policy") from None

    def put_installed(self, port: str, part: str | None) -> None:
        """State what is in a cage; None: nothing."""
        self._changed.add("installed")
        if part is None:
            self._installed.pop(port, None)
        else:
            self._installed[port] = part

    def remove(self, kind: str, name: str) -> None:
        """Take an item away with everything that cannot be there without it.

        A run takes the links along that are stated to go over it, a device its runs, links and modules, a panel its runs, a site what stands in it.
        """
        self.items(kind).pop(name, None)
        self._changed.add(kind)
        if kind == "runs":
            self._remove_all("links", lambda link: name in (link.over or ()), touch=self._case.network.links is not None or "links" in self._changed)
        elif kind == "links":
            for link in [link for link in self.items("links").values() if name in link.diverse_from]:
                self.put("links", link.stated() | {"diverse_from": [other for other in link.diverse_from if other != name]})
        elif kind == "devices":
            self._remove_all("links", lambda link: name in link.devices, touch=self._case.network.links is not None or "links" in self._changed)
            self._remove_all("runs", lambda run: name in run.ends)
            for port in [port for port in self._installed if port.partition("/")[0] == name]:
                self.put_installed(port, None)
        elif kind == "panels":
            self._remove_all("runs", lambda run: name in run.ends)
        elif kind == "sites":
            self._remove_all("devices", lambda device: device.site == name)
            self._remove_all("panels", lambda panel: panel.site == name)

    def _remove_all(self, kind: str, meant: Callable[[Any], bool], *, touch: bool = True) -> None:
        if touch:
            for name in [name for name, item in self.items(kind).items() if meant(item)]:
                self.remove(kind, name)

    def runs_of_route(self, route: str) -> list[str]:
        """The ids of the runs that lie in a route."""
        return [run.id for run in self.items("runs").values() if route in run.routes]

    def routes(self) -> list[str]:
        """All routes, each once."""
        return sorted({route for run in self.items("runs").values() for route in run.routes})

    def case(self) -> Case:
        """The three documents as they are now.

        Raises:
            DocumentError: when the parts of the network or the catalog do not agree any more; it lists every fault.
        """
        network, catalog = self._case.network, self._case.catalog
        fields: dict[str, Any] = {kind: tuple(self._items[kind].values()) for kind in self._changed & set(NETWORK_KINDS)}
        if "installed" in self._changed:
            fields["installed"] = self._installed
        if fields:
            network = Network(**_fields(network) | fields)
        parts = {kind: tuple(self._items[kind].values()) for kind in self._changed & set(PART_KINDS)}
        if parts:
            catalog = Catalog(**_fields(catalog) | parts)
        return Case(network, catalog, self.policy)


def built(noun: type[Noun], kind: str, stated: dict[str, Any]) -> Noun:
    """Build one item, with every fault at its path.

    Raises:
        DocumentError: with the faults.
    """
    try:
        return noun(**stated)
    except ValidationError as error:
        name = stated.get("id", stated.get("part", ""))
        faults = [Fault(f"{kind}.{name}.{fault.path}".rstrip("."), fault.message) for fault in faults_of(error, stated)]
        raise DocumentError(faults, kind) from None


def _fields(document: Document) -> dict[str, Any]:
    """What a document states, as the nouns that it holds: these are not validated a second time."""
    return {name: getattr(document, name) for name in document.model_fields_set if name != "format_"}


def _id_of(item: Any) -> str:
    return str(item.part if hasattr(item, "part") else item.id)
