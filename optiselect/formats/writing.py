"""Write a document to a file: readable, equal when read back, and as a whole or not at all."""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import yaml

from optiselect.errors import DocumentError, Fault
from optiselect.formats.columns import TABLE_NAMES
from optiselect.formats.limits import WHOLE_YAML
from optiselect.formats.tables import tables_of
from optiselect.formats.workbooks import csv_contents, xlsx_content
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
    """Write a document by the suffix of its file (.yaml, .yml, .json; a network or catalog also .xlsx); no suffix: a folder of CSV.

    A file, and a folder that is new, is there as a whole or not at all. In a folder that is there already, other files are left alone
    and a save that fails leaves the old tables; but no system renames several files at once, so a machine that stops between two
    renames can leave tables of both saves. Where that matters, save as .xlsx or .yaml.

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
        text = f"{WHOLE_YAML}\n" + yaml.dump(stated, Dumper=_Quoting, sort_keys=False, allow_unicode=True, width=140, default_flow_style=None) + "...\n"
    else:
        raise DocumentError([Fault("", f"a {document.what} is written to .yaml, .yml or .json, not {suffix!r}", path.name)], document.what)
    _replace(document, path, text.encode("utf-8"))


def _save_tables(document: Document, stated: dict[str, Any], path: Path) -> None:
    tables = tables_of(document.what, stated)
    if path.suffix.lower() == ".xlsx":
        _replace(document, path, xlsx_content(tables))
        return
    contents: dict[str, bytes | None] = {f"{name}.csv": None for name in TABLE_NAMES[document.what]}  # None: a table of an earlier save
    contents |= csv_contents(document.what, tables)
    _written(document, path, lambda: write_together(path, contents))


def _replace(document: Document, path: Path, content: bytes) -> None:
    _written(document, path, lambda: write_whole(path, content))


def _written(document: Document, path: Path, write: Callable[[], None]) -> None:
    try:
        write()
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or error
        raise DocumentError([Fault("", f"cannot be written: {reason}", path.name)], document.what) from None


def write_whole(path: Path, content: bytes) -> None:
    """Replace a file as a whole: a temporary file beside it is written, synced and renamed; the file's mode is kept.

    Raises:
        OSError: when the folder cannot be written to; the old file is then as it was.
    """
    part = _beside(path, "part")
    try:
        _write_synced(part, content, path)
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)


def write_together(folder: Path, contents: Mapping[str, bytes | None]) -> None:
    """Replace several files of a folder (None: remove it), or make the folder with them; others in it are left alone.

    All are written beside, and the old ones copied, before the first is renamed; when a rename fails, the old ones are put back.

    Raises:
        OSError: when the folder cannot be written to; its files are then as they were.
    """
    if not folder.exists():
        made = _beside(folder, "part")
        made.mkdir()
        try:
            write_together(made, contents)
            made.rename(folder)
        except BaseException:
            shutil.rmtree(made, ignore_errors=True)
            raise
        _sync_folder(folder.parent)
        return
    new: dict[Path, Path] = {}
    old: dict[Path, Path] = {}
    try:
        for name, content in contents.items():
            target = folder / name
            if target.exists():
                old[target] = _beside(target, "old")
                shutil.copy2(target, old[target])
            if content is not None:
                new[target] = _beside(target, "part")
                _write_synced(new[target], content, target)
        _rename_all(new, old)
    finally:
        for path in (*new.values(), *old.values()):
            path.unlink(missing_ok=True)
    _sync_folder(folder)


def _rename_all(new: Mapping[Path, Path], old: Mapping[Path, Path]) -> None:
    """Put the new files in place and remove the old ones that have no new one; all or, when one fails, none."""
    done: list[Path] = []
    try:
        for target in dict.fromkeys((*new, *old)):
            if target in new:
                os.replace(new[target], target)
            else:
                target.unlink()
            done.append(target)
    except BaseException:
        for target in done:
            if target in old:
                os.replace(old[target], target)
            else:
                target.unlink()
        raise


def _beside(path: Path, kind: str) -> Path:
    return path.with_name(f".{path.name[:40]}.{secrets.token_hex(8)}.{kind}")


def _write_synced(path: Path, content: bytes, alike: Path) -> None:
    """Write a new file, down to the disk, with the mode of another where that is there."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)  # less the umask, as for any new file
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    if alike.exists():
        path.chmod(alike.stat().st_mode & 0o7777)


def _sync_folder(path: Path) -> None:
    if os.name == "posix":
        folder = os.open(path, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
