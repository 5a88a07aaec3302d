"""JSON Schema of the documents, published from the models themselves."""

from __future__ import annotations

from typing import Any

from optiselect.model.document import Document

CHECKED_AFTER_READING: tuple[str, ...] = (
    "ids and part numbers are unique in their kind, and whatever is named is there",
    "a chain of runs joins, through panels, the two devices of its link",
    "a range is [low, high]",
    "one of two keys is given, not both: id or ids, fiber or copper, form or optic (and rates with form)",
    "strands in use are not more than the strands; the two ends of a run, and of a link, differ",
    "a list of port ids can be expanded (a1-a4)",
    "a policy's objective starts with links and names each once; only a rule that may be waived is waived",
)
"""What holds in a document beyond what a JSON Schema says; `load` checks it too, with every other fault."""


def json_schema(cls: type[Document]) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a document; `CHECKED_AFTER_READING` says what it leaves to the reader.

    It describes typed JSON: in YAML a plain scalar is read as the number or yes/no that its key is due.
    """
    schema = cls.model_json_schema(by_alias=True)
    for noun in schema.get("$defs", {}).values():
        if "const" in noun.get("properties", {}).get("kind", {}):
            noun["required"] = sorted({"kind", *noun.get("required", ())})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": cls.format(),
        "description": "",
        **schema,
        "$comment": "; ".join(CHECKED_AFTER_READING),
    }
