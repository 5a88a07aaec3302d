"""JSON Schema of the documents, published from the models themselves."""

from __future__ import annotations

from typing import Any

from optiselect.model.document import MAX_FIGURE, Document
from optiselect.model.terms import WAIVABLE

CHECKED_AFTER_READING: tuple[str, ...] = (
    "ids and part numbers are unique in their kind, and whatever is named is there",
    "a chain of runs joins, through panels, the two devices of its link",
    "a link ends at two devices",
    "a range is [low, high]",
    "strands in use are not more than the strands",
    "a list of port ids can be expanded (a1-a4), to at most 4096 ports",
    "the devices together have at most 1000000 ports",
)
"""What holds in a document beyond what a JSON Schema can say; `load` checks it too, with every other fault."""

_Schema = dict[str, Any]


def _is_given(key: str) -> _Schema:
    return {"required": [key], "properties": {key: {"not": {"type": "null"}}}}


def _one_of(*keys: str) -> _Schema:
    return {"oneOf": [_is_given(key) for key in keys]}


_BETWEEN_KEYS: dict[str, _Schema] = {
    "Cage": _one_of("id", "ids"),
    "FixedOptic": _one_of("id", "ids"),
    "SharedPort": _one_of("id", "ids"),
    "CopperPort": _one_of("id", "ids"),
    "Run": _one_of("fiber", "copper"),
    "Plan": {"required": ["status", "hashes"]},
    "Converter": {**_one_of("form", "optic"), "if": _is_given("form"), "then": _is_given("rates")},
}
"""What the nouns' own checks hold between keys, in the words of JSON Schema."""
_OF_A_KEY: dict[tuple[str, str], _Schema] = {
    ("Plan", "hashes"): {"required": ["network", "catalog", "policy"]},
    ("Run", "ends"): {"uniqueItems": True},
    ("Waiver", "rule"): {"enum": list(WAIVABLE)},
    ("Policy", "objective"): {"prefixItems": [{"const": "links"}], "uniqueItems": True},
}
"""The same, of one key."""


def json_schema(cls: type[Document]) -> _Schema:
    """Return the JSON Schema (draft 2020-12) of a document: it accepts what `load` accepts, but for seven things that no schema can say.

    These are in `CHECKED_AFTER_READING` and in the schema's ``$comment``: names that must be unique or be there, chains that must join,
    two ends on one device, ranges that run backwards, more strands in use than there are, lists of port ids, and how many ports there are.

    It describes typed JSON: in YAML a plain scalar is read as the number or yes/no that its key is due.
    """
    schema = cls.model_json_schema(by_alias=True)
    for name, noun in [*schema.get("$defs", {}).items(), (cls.__name__, schema)]:
        properties = noun.get("properties", {})
        if "const" in properties.get("kind", {}):
            noun["required"] = sorted({"kind", *noun.get("required", ())})
        noun |= _BETWEEN_KEYS.get(name, {})
        for key in properties:
            properties[key] |= _OF_A_KEY.get((name, key), {})
    _bound(schema)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": cls.format(),
        "description": "",
        **schema,
        "$comment": "; ".join(CHECKED_AFTER_READING),
    }


def _bound(schema: Any) -> None:
    """Publish the bound of every figure that has none of its own."""
    if isinstance(schema, list):
        for item in schema:
            _bound(item)
    elif isinstance(schema, dict):
        if schema.get("type") == "number" and not schema.keys() & {"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"}:
            schema |= {"minimum": -MAX_FIGURE, "maximum": MAX_FIGURE}
        for item in schema.values():
            _bound(item)
