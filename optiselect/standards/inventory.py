"""What is plugged in at a site, from the memories of its modules: a part number for each port, and the figures of each part.

The figures of the user's catalog come first, since a data sheet says more than a memory does; but a module whose memory says otherwise
than the catalog does for its part number is not the one of the catalog, and is audited as what its memory says.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from optiselect.model.catalog import Catalog, Module
from optiselect.model.document import Figures
from optiselect.model.inventory import Inventory
from optiselect.model.memory import ModuleMemory
from optiselect.standards.pmd import pmd
from optiselect.standards.remembered import is_of_another_pair, module_of
from optiselect.standards.transceiver import transceiver


def inventoried(memories: Mapping[str, ModuleMemory], catalog: Catalog, coding: Iterable[str] = ()) -> Inventory:
    """The inventory of the memories of a site, by port, beside a catalog.

    Where a single-strand module sends at 1550 nm, one that sends at 1310 nm may be its far end, or one for 1490 nm: no memory
    says which, so what it receives is unknown. Modules of one part number and other figures get a name each: the part number,
    and the first port that such a one is in.

    Raises:
        UnknownNameError: when a catalog module names a standard that is not known.
    """
    others = set(catalog.converter_by_part) | set(catalog.cord_by_part) | set(catalog.attenuator_by_part)
    kinds: dict[str, dict[Module, str]] = defaultdict(dict)
    fitted: dict[str, str] = {}
    added: list[Module] = []
    notes: list[str] = []
    other_pairs = any(is_of_another_pair(memory) for memory in memories.values())
    for port, memory in sorted(memories.items()):
        notes += [f"{port}: {text}" for text in memory.unread]
        found = module_of(memory, coding, other_pairs=other_pairs)
        known = kinds[found.part]
        kind = found.model_copy(update={"description": None})
        if kind not in known:
            listed = catalog.module_by_part.get(found.part)
            told = list(contradictions(found, listed)) if listed is not None else []
            shared_name = not told if listed is not None else not known and found.part not in others
            known[kind] = found.part if shared_name else f"{found.part} (memory of {port.replace('/', ' port ')})"
            if listed is None or told:
                added.append(found.model_copy(update={"part": known[kind]}))
            if listed is None or told:
                notes += [f"{port}: {text}" for text in beyond_standard(found)]
            if told:
                notes.append(f"{port}: the module says {found.part} and is not that of the catalog: {'; '.join(told)}; its memory is audited, as {known[kind]}")
        fitted[port] = known[kind]
    whole = Catalog.merge([catalog, Catalog(modules=tuple(added))])
    return Inventory(Figures(fitted), whole, tuple(notes))


def beyond_standard(module: Module) -> Iterator[str]:
    """A single-mode length beyond that of the standard which the module claims: its powers are then beyond it too, and not known."""
    published = pmd(module.standard).figures.reach_m if module.standard else None
    stated_m, reach_m = (figures.get("single-mode", 0.0) if figures else 0.0 for figures in (module.reach_m, published))
    if stated_m > reach_m > 0:
        yield (
            f"{module.part} states {stated_m:g} m where {module.standard} has {reach_m:g} m; its light is still reckoned by that standard, "
            f"which is the least that it does: give its data sheet's figures in the catalog where that is too little"
        )


def contradictions(remembered: Module, listed: Module) -> Iterator[str]:
    """What a module's memory says otherwise than the catalog does for the same part number; what one of them leaves out is none."""
    said, sold = (transceiver(module, (module.rates or ("1G",))[-1]) for module in (remembered, listed))
    for key in ("medium", "mode", "strands", "connector"):
        ours, theirs = getattr(said, key), getattr(sold, key)
        if None not in (ours, theirs) and ours != theirs:
            yield f"{key} {ours} in memory, {theirs} in the catalog"
    if said.rates and sold.rates and not set(said.rates) & set(sold.rates):
        yield f"rates {', '.join(said.rates)} in memory, {', '.join(sold.rates)} in the catalog"
    if said.tx_nm and sold.tx_nm and (said.tx_nm[1] < sold.tx_nm[0] or sold.tx_nm[1] < said.tx_nm[0]):
        yield f"sends {said.tx_nm[0]:g}-{said.tx_nm[1]:g} nm in memory, {sold.tx_nm[0]:g}-{sold.tx_nm[1]:g} nm in the catalog"
