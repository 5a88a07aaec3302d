"""Where a figure comes from: document, place in it, and how it is known; and the reading of the data files of this folder.

Each value in a data file is written ``{is: VALUE, source: [DOCUMENT, PLACE, HOW]}``. DOCUMENT and the pages that HOW may name
are keys of ``sources.yaml``. HOW is a page key (the value was read there), ``from memory``, ``common practice, no source``, or
``derived: ...`` with the arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, cast

MEMORY = "from memory"
PRACTICE = "common practice, no source"
DERIVED = "derived: "


@dataclass(frozen=True)
class Citation:
    """The source of one figure.

    Attributes:
        document: title of the standard or specification.
        place: clause, table or page; "" where none is known.
        how: how the figure is known: a page key of ``sources.yaml``, ``from memory``, ``common practice, no source``, ``derived: ...``.
    """

    document: str
    place: str
    how: str

    def __str__(self) -> str:
        where = f"{self.document}, {self.place}" if self.place else self.document
        return f"{where} ({'as printed in ' + self.how if self.is_read else self.how})"

    @property
    def is_read(self) -> bool:
        """Whether the figure was read in print, at `address`."""
        return self.how.startswith("page-")

    @property
    def address(self) -> str | None:
        """The public address, or the description, of the text in which the figure was read; None when it was not read."""
        return bibliography()["pages"][self.how] if self.is_read else None


@cache
def data(name: str) -> Any:
    """The content of a data file of this folder, by its name without suffix, read once.

    Callers must not change it.
    """
    import yaml  # loaded here, so that importing the package stays quick

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    text = files("optiselect.standards").joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    return yaml.load(text, Loader=loader)  # both loaders are safe ones


@cache
def bibliography() -> dict[str, dict[str, str]]:
    """Documents and pages that the figures of this folder cite, by key."""
    return cast(dict[str, dict[str, str]], data("sources"))


def citation(source: list[str]) -> Citation:
    """Turn the ``source`` of a value into a citation.

    Raises:
        KeyError: when the document or the page is not in the bibliography.
        ValueError: when it does not say how the figure is known.
    """
    document, place, how = source
    title = bibliography()["documents"][document]
    if how.startswith("page-"):
        bibliography()["pages"][how]
    elif how not in (MEMORY, PRACTICE) and not how.startswith(DERIVED):
        raise ValueError(f"{how!r} does not say how the figure is known")
    return Citation(title, place, how)


def sourced_values(entry: Mapping[str, Any]) -> Iterator[tuple[str, Any, Citation]]:
    """Yield (field, value, citation) of an entry; a field given by rows (``for``, ``is``) yields ``field.key`` once a key."""
    for field, stated in entry.items():
        if isinstance(stated, list):
            for row in stated:
                for key in row["for"]:
                    yield f"{field}.{key}", row["is"], citation(row["source"])
        else:
            yield field, stated["is"], citation(stated["source"])


def plain_values(entry: Mapping[str, Any]) -> dict[str, Any]:
    """The values of an entry without their sources; fields given by rows become mappings."""
    return {field: {key: row["is"] for row in stated for key in row["for"]} if isinstance(stated, list) else stated["is"] for field, stated in entry.items()}
