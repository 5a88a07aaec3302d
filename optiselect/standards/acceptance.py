"""Names of the reference methods of an insertion loss test."""

from __future__ import annotations

from functools import cache
from typing import Literal, get_args

from optiselect.model.terms import Mode
from optiselect.standards.sources import Citation, citation, data

Method = Literal["one-cord", "two-cord", "three-cord"]
METHODS: tuple[Method, ...] = get_args(Method)


@cache
def method_name(method: Method, mode: Mode) -> str:
    """A reference method by its names in IEC 61280-4 and TIA-526, with editions.

    Source: standards/acceptance.yaml.
    """
    return str(data("acceptance")["methods"][method][mode]["is"])


@cache
def editions_citation() -> Citation:
    """How the current editions are known."""
    return citation(data("acceptance")["current_editions"]["source"])
