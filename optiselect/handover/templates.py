"""The templates of the pages, with their style sheets and the one script, all of which come with this library."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from optiselect.errors import MissingExtraError
from optiselect.handover.clean import clean

if TYPE_CHECKING:
    from jinja2 import Template


def template(name: str) -> Template:
    """A template by its file name; every text that it prints is clean and escaped.

    Raises:
        MissingExtraError: when Jinja2 is not installed.
    """
    try:
        import jinja2
    except ImportError:
        raise MissingExtraError("report") from None
    found: Template = _environment(jinja2).get_template(name)
    return found


@cache
def _environment(jinja2: Any) -> Any:
    """Keeps the templates once they are compiled."""
    return jinja2.Environment(loader=jinja2.FunctionLoader(static), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, finalize=_finally)


def _finally(value: Any) -> Any:
    """Every text that a template prints is clean; what is marked as ours stays."""
    return clean(value) if type(value) is str else value


@cache
def static(name: str) -> str:
    """The text of a file of the folder ``pages``."""
    return files("optiselect.handover").joinpath("pages", name).read_text(encoding="utf-8")


def security(script: str) -> str:
    """What a page with this script may do: run it and nothing else, and ask for nothing."""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{digest}'"
