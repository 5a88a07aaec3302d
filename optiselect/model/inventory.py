"""What is plugged in at a site, and the figures of it: what an audit is made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from optiselect.model.catalog import Catalog
from optiselect.model.document import Figures


@dataclass(frozen=True)
class Inventory:
    """Modules by port, with a catalog that has them all: ``check(network, inventory.catalog, inventory.fitted)``.

    Attributes:
        fitted: part number by ``device/port``.
        catalog: the catalog that was given, and what is plugged in beside it.
        notes: what could not be read or checked, and where a memory and the catalog disagree, by port.
    """

    fitted: Figures[str, str]
    catalog: Catalog
    notes: tuple[str, ...] = ()

    @classmethod
    def from_memory(cls, folder: str | Path, catalog: Catalog | None = None, *, coding: Iterable[str] = ()) -> Inventory:
        """Read the inventory of a site from a folder of dumps of module memory, one file for each port: ``core__1.hex`` is ``core/1``.

        Args:
            folder: files named ``DEVICE__PORT`` with ``.hex``, ``.txt`` or ``.bin`` (`optiselect.formats.eeprom.read_folder`).
            catalog: where part numbers are looked up first; omitted = all is taken from the memories.
            coding: the codings of the modules, in the words of the network's `accepts`, which no memory says; omitted = unknown.

        Raises:
            DocumentError: with the faults of all files.
        """
        from optiselect.formats.eeprom import read_folder  # the doors from a noun to its file forms, and to the standards
        from optiselect.standards.inventory import inventoried

        return inventoried(read_folder(folder), catalog or Catalog(), coding)
