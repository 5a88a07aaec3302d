"""Write a document to a file: readable, equal when read back, and as a whole or not at all."""

from __future__ import annotations

import json
import os
import secrets
from pathlib import Path
from typing import Any

import yaml

from optiselect.errors import DocumentError, Fault
from optiselect.formats.columns import TABLE_NAMES
from optiselect.formats.tables import tables_of
from optiselect.formats.workbooks import csv_content, xlsx_content
from optiselect.model.document import Document

_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


class _Quoting(_Dumper):  # type: ignore[misc]
    """Writes text plain only where it can be taken for nothing but text."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def _text_node(dumper: Any, text: str) -> Any:
    plain = text[:1].isalpha() and text.lower() not in ("y", "n", "yes", "no", "on", "off", "true", "false", "null")
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=None if plain else '"')


_Quoting.add_representer(str, _text_node)


def save(document: Document, path: Path) -> None:
    """Write a document by the suffix of its file (.yaml, .yml, .json; a network or catalog also .xlsx); no suffix: a folder of CSV,
    of which each file is replaced as a whole.

    Raises:
        DocumentError: when the suffix is not one that can be written, or the folder cannot be written to.
    """
    stated = document.stated()
    stated = {"format": document.format(), **{key: value for key, value in stated.items() if key != "format"}}
    suffix = path.suffix.lower()
    if document.what in ("network", "catalog") and (suffix == ".xlsx" or path.is_dir() or not suffix):
        _save_tables(document, stated, path)
        return
    if suffix == ".json":
        text = json.dumps(stated, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    elif suffix in (".yaml", ".yml"):
        text = yaml.dump(stated, Dumper=_Quoting, sort_keys=False, allow_unicode=True, width=140, default_flow_style=None)
    else:
        raise DocumentError([Fault("", f"a {document.what} is written to .yaml, .yml or .json, not {suffix!r}", path.name)], document.what)
    _replace(document, path, text.encode("utf-8"))


def _save_tables(document: Document, stated: dict[str, Any], path: Path) -> None:
    tables = tables_of(document.what, stated)
    if path.suffix.lower() == ".xlsx":
        _replace(document, path, xlsx_content(tables))
        return
    try:
        path.mkdir(exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise DocumentError([Fault("", f"cannot be written: {reason}", path.name)], document.what) from None
    for name, table in tables.items():
        _replace(document, path / f"{name}.csv", csv_content(table))
    for name in TABLE_NAMES[document.what]:
        if name not in tables:
            (path / f"{name}.csv").unlink(missing_ok=True)  # a table of an earlier save


def _replace(document: Document, path: Path, content: bytes) -> None:
    try:
        write_whole(path, content)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or error
        raise DocumentError([Fault("", f"cannot be written: {reason}", path.name)], document.what) from None


def write_whole(path: Path, content: bytes) -> None:
    """Replace a file as a whole: a temporary file beside it is written, synced and renamed; the file's mode is kept.

    Raises:
        OSError: when the folder cannot be written to; the old file is then as it was.
    """
    name = path.with_name(f".{path.name[:40]}.{secrets.token_hex(8)}.part")
    handle = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)  # less the umask, as for any new file
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            name.chmod(path.stat().st_mode & 0o7777)
        os.replace(name, path)
    except BaseException:
        name.unlink(missing_ok=True)
        raise
    if os.name == "posix":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
