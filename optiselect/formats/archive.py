"""A workbook's archive made harmless, before the reader of workbooks, which trusts what it unpacks and ends the process where memory ends.

Sizes are measured, not believed; every XML part is read once by expat, which sees a DTD and a far-off cell in any encoding. What the
reader would make of it is counted: two cells in opposite corners are a dense table of 17,179,869,184 cells, and a text that is kept once
is copied into each cell that shows it. The reader is then given these parts in an archive of our own, so that it sees nothing else.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections import Counter
from collections.abc import Iterator
from copy import copy
from pathlib import PurePosixPath
from xml.parsers import expat

from optiselect.formats.limits import MAX_BYTES, MAX_VALUES, Refused

_MAX_ENTRIES = 200
_MAX_RATIO = 100
_SMALL = 1 << 20
_CHUNK = 1 << 18
_ROW = re.compile(r"[1-9][0-9]{0,6}")
_CELL = re.compile(r"([A-Za-z]{1,3})([1-9][0-9]{0,6})")
_INDEX = re.compile(r"\s*([0-9]{1,9})\s*")
_LEADS_ON = "xl/_rels/workbook.xml.rels"
_OPEN = "http://schemas.openxmlformats.org"
_ROOT = (
    f'<Relationships xmlns="{_OPEN}/package/2006/relationships">'
    f'<Relationship Id="rId1" Type="{_OPEN}/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>'
)
"""Where a workbook begins."""
_TOO_LARGE = f"the workbook unpacks to more than {MAX_BYTES // 1024 // 1024} MB or {_MAX_ENTRIES} entries"


def checked_workbook(raw: bytes) -> bytes:
    """Look through the archive of a workbook, and return one of its parts that hold cells, unpacked.

    Raises:
        Refused: when it is no archive, unpacks to too much, holds a DTD, or a part that is not what it should be.
    """
    out = io.BytesIO()
    found = _Found()
    names: set[str] = set()
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive, zipfile.ZipFile(out, "w") as clean:
            entries = archive.infolist()
            if len(entries) > _MAX_ENTRIES or sum(entry.file_size for entry in entries) > MAX_BYTES:
                raise Refused(_TOO_LARGE)
            for entry in entries:
                name = entry.filename.replace("\\", "/")
                if name.lower() in names:
                    raise Refused("two parts of the workbook have one name")
                names.add(name.lower())
                content = _content(archive, entry, total, _Part(found, name.lower()) if _is_read(name) else None)
                total += len(content)
                if _is_read(name):
                    clean.writestr(name, content)
            clean.writestr("_rels/.rels", _ROOT)
    except expat.ExpatError as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None
    found.check_texts()
    return out.getvalue()


def _is_read(name: str) -> bool:
    """Whether the reader of workbooks is to see a part: XML of the workbook itself, and neither pictures nor documents of other kinds."""
    return name.lower().startswith(("xl/", "[content_types]")) and name.lower().endswith((".xml", ".rels"))


def _content(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, before: int, part: _Part | None) -> bytes:
    """Unpack a part, looked at on the way."""
    content = bytearray()
    for chunk in _unpacked(archive, entry):
        content += chunk
        if before + len(content) > MAX_BYTES:
            raise Refused(_TOO_LARGE)
        if len(content) > _SMALL and len(content) > _MAX_RATIO * max(entry.compress_size, 1):
            raise Refused(f"a part of the workbook unpacks to more than {_MAX_RATIO} times its size")
        if part:
            part.feed(chunk)
    if len(content) != entry.file_size:
        raise Refused("a part of the workbook is not of the size that it states")
    if part:
        part.feed(b"", last=True)
    return bytes(content)


def _unpacked(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> Iterator[bytes]:
    """Unpack to the end of the packed data, not to the size that the entry states."""
    unlimited = copy(entry)
    unlimited.file_size = MAX_BYTES + _CHUNK
    with archive.open(unlimited) as file:
        while chunk := file.read(_CHUNK):
            yield chunk


class _Found:
    """What the parts of a workbook make together."""

    def __init__(self) -> None:
        self.cells = 0
        self.shown: Counter[int] = Counter()
        """How often a cell shows a text that is kept once, by the number of the text."""
        self.lengths: list[int] = []
        self._led_to: set[str] = set()

    def lead(self, to: str) -> None:
        """Note a part that the workbook leads on to, which is to be XML, and another than all before: a sheet is read once."""
        end = "/".join(PurePosixPath(to.replace("\\", "/").lower()).parts[-2:])
        if not end.endswith(".xml") or end in self._led_to:
            raise Refused("the workbook leads to a part that is no XML, or to one part twice")
        self._led_to.add(end)

    def check_texts(self) -> None:
        """Refuse texts that are kept once and shown so often that they would fill the memory."""
        if sum(times * self.lengths[index] for index, times in self.shown.items() if index < len(self.lengths)) > MAX_BYTES:
            raise Refused(f"the texts in the cells of the workbook are together longer than {MAX_BYTES // 1024 // 1024} MB")


class _Part:
    """One XML part, looked through as it is unpacked."""

    def __init__(self, found: _Found, name: str) -> None:
        self._found = found
        self._leads_on, self._keeps_texts = name == _LEADS_ON, name == "xl/sharedstrings.xml"
        self._cells = self._row = self._column = self._last_row = self._last_column = self._area = 0
        self._sheets: set[str] = set()
        self._shows_kept_text = False
        self._index: str | None = None
        self._expat = expat.ParserCreate(namespace_separator=" ")
        self._expat.buffer_text = True
        self._expat.StartDoctypeDeclHandler = self._dtd
        self._expat.StartElementHandler = self._element
        self._expat.EndElementHandler = self._end
        self._expat.CharacterDataHandler = self._text

    def feed(self, chunk: bytes, *, last: bool = False) -> None:
        self._expat.Parse(chunk, last)

    def _dtd(self, *declaration: object) -> None:
        raise Refused("the workbook holds a DTD")

    def _element(self, name: str, attributes: dict[str, str]) -> None:
        kind = name.rpartition(" ")[2]
        if kind == "row":
            self._row = self._number_of_row(attributes["r"]) if "r" in attributes else self._row + 1
            self._column = 0
        elif kind == "c":
            self._cell(attributes)
        elif kind == "v":
            self._index = "" if self._shows_kept_text else None
        elif kind == "si" and self._keeps_texts:
            self._found.lengths.append(0)
        elif kind == "Relationship" and self._leads_on:
            self._found.lead(attributes.get("Target", ""))
        elif kind == "sheet":
            leads = {value for key, value in attributes.items() if key.rpartition(" ")[2] == "id"}
            if leads & self._sheets:
                raise Refused("two sheets of the workbook are one part")
            self._sheets |= leads

    def _cell(self, attributes: dict[str, str]) -> None:
        self._cells += 1
        self._shows_kept_text = attributes.get("t") == "s"
        if "r" in attributes:
            cell = _CELL.fullmatch(attributes["r"])
            if cell is None:
                raise Refused(f"a sheet has no cell {attributes['r'][:20]!r}")
            row, self._column = self._number_of_row(cell.group(2)), _number(cell.group(1))
        else:
            row, self._column = self._row, self._column + 1
        self._last_row, self._last_column = max(self._last_row, row), max(self._last_column, self._column)
        area = max(self._cells, self._last_row * self._last_column)
        self._found.cells += area - self._area
        self._area = area
        if self._found.cells > MAX_VALUES:
            raise Refused(f"the sheets span more than {MAX_VALUES} cells")

    def _number_of_row(self, text: str) -> int:
        if not _ROW.fullmatch(text):
            raise Refused(f"a sheet has no row {text[:20]!r}")
        return int(text)

    def _text(self, text: str) -> None:
        if self._index is not None:
            self._index += text[:40]
        elif self._keeps_texts and self._found.lengths:
            self._found.lengths[-1] += len(text)

    def _end(self, name: str) -> None:
        if self._index is not None:
            index = _INDEX.fullmatch(self._index)
            if index is None:
                raise Refused("a cell shows a text that has no number")
            self._found.shown[int(index.group(1))] += 1
            self._index = None


def _number(letters: str) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
