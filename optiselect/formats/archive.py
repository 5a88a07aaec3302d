"""Whether a workbook's archive is harmless: looked at before the reader of workbooks, which trusts what it unpacks.

Sizes are measured, not believed; every XML part is read once by expat, which sees a DTD and a far-off cell in any encoding.
A sheet with two cells in opposite corners makes a dense table of 17,179,869,184 cells, so the area is limited, not only the count.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from copy import copy
from pathlib import PurePosixPath
from xml.parsers import expat

from optiselect.formats.limits import MAX_BYTES, MAX_VALUES, Refused

_MAX_ENTRIES = 200
_MAX_RATIO = 100
_SMALL = 1 << 20
_CHUNK = 1 << 18
_CELL = re.compile(r"([A-Za-z]{1,3})([0-9]{1,7})")
_TOO_LARGE = f"the workbook unpacks to more than {MAX_BYTES // 1024 // 1024} MB or {_MAX_ENTRIES} entries"


def check_workbook(raw: bytes) -> None:
    """Look through the archive of a workbook.

    Raises:
        Refused: when it is no archive, unpacks to too much, or holds a DTD.
    """
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            entries = archive.infolist()
            if len(entries) > _MAX_ENTRIES or sum(entry.file_size for entry in entries) > MAX_BYTES:
                raise Refused(_TOO_LARGE)
            for entry in entries:
                part = _Part() if PurePosixPath(entry.filename).suffix.lower() in (".xml", ".rels") else None
                size = 0
                for chunk in _unpacked(archive, entry):
                    size += len(chunk)
                    if total + size > MAX_BYTES:
                        raise Refused(_TOO_LARGE)
                    if size > _SMALL and size > _MAX_RATIO * max(entry.compress_size, 1):
                        raise Refused(f"a part of the workbook unpacks to more than {_MAX_RATIO} times its size")
                    if part:
                        part.feed(chunk)
                if size != entry.file_size:
                    raise Refused("a part of the workbook is not of the size that it states")
                if part:
                    part.feed(b"", last=True)
                total += size
    except expat.ExpatError as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None


def _unpacked(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Unpack to the end of the packed data, not to the size that the entry states."""
    unlimited = copy(entry)
    unlimited.file_size = MAX_BYTES + _CHUNK
    with archive.open(unlimited) as file:
        while chunk := file.read(_CHUNK):
            yield chunk


class _Part:
    """One XML part, looked through as it is unpacked."""

    def __init__(self) -> None:
        self._cells = self._row = self._column = self._last_row = self._last_column = 0
        self._expat = expat.ParserCreate(namespace_separator=" ")
        self._expat.StartDoctypeDeclHandler = self._dtd
        self._expat.StartElementHandler = self._element

    def feed(self, chunk: bytes, *, last: bool = False) -> None:
        self._expat.Parse(chunk, last)

    def _dtd(self, *declaration: object) -> None:
        raise Refused("the workbook holds a DTD")

    def _element(self, name: str, attributes: dict[str, str]) -> None:
        kind = name.rpartition(" ")[2]
        if kind == "row":
            given = attributes.get("r", "")
            self._row = int(given) if given.isdecimal() and len(given) < 8 else self._row + 1
            self._column = 0
        elif kind == "c":
            self._cells += 1
            cell = _CELL.fullmatch(attributes.get("r", ""))
            self._column = _number(cell.group(1)) if cell else self._column + 1
            self._last_row = max(self._last_row, self._row, int(cell.group(2)) if cell else 0)
            self._last_column = max(self._last_column, self._column)
            if self._cells > MAX_VALUES or self._last_row * self._last_column > MAX_VALUES:
                raise Refused(f"a sheet spans more than {MAX_VALUES} cells")


def _number(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
