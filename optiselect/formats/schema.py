"""JSON Schema of the documents, published from the models themselves."""

from __future__ import annotations

from typing import Any

from optiselect.model.document import Document


def json_schema(cls: type[Document]) -> dict[str, Any]:
    """Return the JSON Schema of a document; what holds between its parts (ids that must exist) is checked after reading."""
    schema = cls.model_json_schema(by_alias=True)
    schema["$id"] = cls.format()
    return schema
