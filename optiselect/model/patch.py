"""Changes of documents as data: a way to a place by the user's own names, and what to put there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from optiselect.errors import UnknownNameError
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network, expand_ids
from optiselect.model.policy import Policy

if TYPE_CHECKING:
    from optiselect.model.refusal import DocumentName, Edit

_NAMES = ("id", "part")


def patched(document: DocumentName, edits: Iterable[Edit], network: Network, catalog: Catalog, policy: Policy) -> tuple[Network, Catalog, Policy]:
    """The three documents, one of them changed.

    Raises:
        UnknownNameError: when a place is not there.
        DocumentError: when the changed document is at fault.
    """
    if document == "network":
        data = network.stated()
        if network.links is None:
            data["links"] = [link.stated() for link in network.wanted]
        return Network(**_edited(data, edits)), catalog, policy
    if document == "catalog":
        return network, Catalog(**_edited(catalog.stated(), edits)), policy
    return network, catalog, Policy(**_edited(policy.stated(), edits), rules=policy.rules)


def _edited(data: dict[str, Any], edits: Iterable[Edit]) -> dict[str, Any]:
    for edit in edits:
        *way, last = edit.at
        here: Any = data
        for step in way:
            here = _step(here, step, edit.at)
        if edit.do == "add":
            here.setdefault(last, []).append(edit.value)
        elif isinstance(here, list):
            here[here.index(_step(here, last, edit.at))] = edit.value
        elif edit.value is None:
            here.pop(last, None)
        else:
            here[last] = edit.value
    return data


def _step(here: Any, step: str, way: Sequence[str]) -> Any:
    """One step on: a key, or the item of a list by its name; a port that is stated together with others is taken out of them."""
    if isinstance(here, dict):
        return here.setdefault(step, {})
    for item in here:
        if any(item.get(name) == step for name in _NAMES):
            return item
    for item in here:
        if "ids" in item and step in expand_ids(item["ids"]):
            alone = {key: value for key, value in item.items() if key != "ids"} | {"id": step}
            others = [name for name in expand_ids(item["ids"]) if name != step]
            here.append(alone)
            if others:
                item["ids"] = ",".join(others)
            else:
                here.remove(item)
            return alone
    raise UnknownNameError(f"there is no {step!r} at {' '.join(way)}")
