"""An invented ferry terminal and an invented catalog: something to try the library on, and what the examples use.

Places, suppliers, part numbers, prices and readings are made up. Where a module names an open standard its figures are that
standard's; every other figure is plausible and no more than that.
"""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import TypeVar

from optiselect.model.catalog import Catalog
from optiselect.model.document import Document
from optiselect.model.network import Network
from optiselect.model.policy import Policy

__all__ = ["demo_catalog", "demo_network", "demo_policy"]

_Read = TypeVar("_Read", bound=Document)


def demo_network() -> Network:
    """A ferry terminal of 57 links: old multimode, single strands, cold berths, hot kiosks, a ring in two ducts, an island.

    Three links cannot be served, each for another reason: copper between two buildings (``freight``), too much loss
    (``outer-light``), and one link too many for the strands of the last cable (one of ``light-uplink-1`` to ``-3``).
    """
    return _read(Network, "network.yaml")


def demo_catalog() -> Catalog:
    """About 130 parts of three suppliers, prices in EUR: modules, converters, cords and attenuators."""
    return _read(Catalog, "catalog.yaml")


def demo_policy() -> Policy:
    """The default objectives, with spares, installed modules preferred, and one waiver (an old pair with surge arresters)."""
    return _read(Policy, "policy.yaml")


def _read(kind: type[_Read], name: str) -> _Read:
    with as_file(files(__name__).joinpath(name)) as path:
        return kind.load(path)
