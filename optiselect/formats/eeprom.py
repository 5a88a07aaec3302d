"""The memory of pluggable modules, from a dump: one module, or a folder with one file for each port.

Serial numbers, dates and makers' names are in a dump and are not taken from it, nor repeated in a fault.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from urllib.parse import unquote

from optiselect.errors import DocumentError, Fault
from optiselect.formats import eeprom_qsfp, eeprom_sfp
from optiselect.formats.eeprom_codes import IDENTIFIERS
from optiselect.formats.eeprom_qsfp import PAGE_BYTES, faults_of_qsfp, qsfp_memory
from optiselect.formats.eeprom_sfp import A2_AT, faults_of_sfp, sfp_memory
from optiselect.formats.eeprom_text import Dump, dump_of
from optiselect.formats.limits import Refused
from optiselect.model.memory import ModuleMemory

MAX_DUMP_BYTES = 64 * 1024
"""Of a file: a dump of 640 bytes takes some 4000 characters."""
MAX_FILES = 20_000
SUFFIXES = (".hex", ".txt", ".bin")
BETWEEN = "__"
"""Stands in a file name where a port name has its slash."""
_WHAT = "module memory"
_SFP = 0x03
_LONGEST_SFP = 512


def read_memory(source: bytes | str | Path) -> ModuleMemory:
    """What the memory of one module states.

    Args:
        source: a file, or the content of one: the bytes of the memory, or a dump of them as text (`eeprom_text` lists the layouts).
            SFF-8472: A0h from byte 0, at least 64 bytes, with A2h behind it at byte 256 or as a dump of its own in the same file.
            SFF-8636: upper page 00h alone (offsets from 0x80, or none), or the lower page and the upper ones behind it.

    Raises:
        DocumentError: when it cannot be read, is too short or too long, is of another kind of module, or has a wrong check
            code; it lists every fault with its offset.
    """
    if isinstance(source, bytes):
        return _memory(source, "")
    path = Path(source)
    try:
        return _memory(_content(path), path.name)
    except Refused as refusal:
        raise DocumentError([Fault("", refusal.message, path.name)], _WHAT) from None


def read_folder(folder: str | Path) -> dict[str, ModuleMemory]:
    """The memories of all modules of a site, by port, in the order of the names.

    Each file is named for its port, ``DEVICE__PORT`` and ``.hex``, ``.txt`` or ``.bin``: ``core__1.hex`` is ``core/1``. A
    character that a file name cannot have, and an underscore beside another, is written as in a URL (``%5F``). A name is
    only ever read as a port; files are taken from the folder itself, no link is followed, and hidden files are left out.

    Raises:
        DocumentError: with the faults of all files.
    """
    folder = Path(folder)
    faults: list[Fault] = []
    memories: dict[str, ModuleMemory] = {}
    for name in _names(folder):
        try:
            port = _port_of(name)
            if port in memories:
                raise Refused(f"{port} has a second file; keep the one that is true")
            memories[port] = _memory(_content(folder / name), name)
        except Refused as refusal:
            faults.append(Fault(refusal.path, refusal.message, name))
        except DocumentError as error:
            faults.extend(error.faults)
    if faults:
        raise DocumentError(faults, _WHAT)
    return memories


def file_name_of(port: str, suffix: str = ".hex") -> str:
    """The name of the file that holds the dump of a port, ``device/port``: what `read_folder` reads."""
    device, _, port_id = port.partition("/")
    return BETWEEN.join(_quoted(part) for part in (device, port_id)) + suffix


def _quoted(text: str) -> str:
    plain = "".join(char if char.isascii() and (char.isalnum() or char in "-. ,()") else "".join(f"%{byte:02X}" for byte in char.encode()) for char in text)
    return f"%2E{plain[1:]}" if plain.startswith(".") else plain


def _names(folder: Path) -> list[str]:
    names: list[str] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if not entry.name.startswith("."):
                    names.append(entry.name)
                if len(names) > MAX_FILES:
                    raise DocumentError([Fault("", f"the folder holds more than {MAX_FILES} files", folder.name)], _WHAT)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise DocumentError([Fault("", f"this folder cannot be read: {reason}", folder.name)], _WHAT) from None
    if not names:
        raise DocumentError([Fault("", "the folder holds no dump; name each file for its port, as core__1.hex for core/1", folder.name)], _WHAT)
    return sorted(names)


def _port_of(name: str) -> str:
    stem, suffix = os.path.splitext(name)
    parts = stem.split(BETWEEN)
    if suffix.lower() not in SUFFIXES or len(parts) != 2 or not all(parts):
        raise Refused(f"not the name of a dump; write device{BETWEEN}port and {' or '.join(SUFFIXES)}, as core{BETWEEN}1.hex for core/1")
    try:
        device, port = (unquote(part, errors="strict") for part in parts)
    except UnicodeDecodeError:
        raise Refused("the % codes of this name are not UTF-8") from None
    if "/" in device or "/" in port:
        raise Refused("neither a device nor a port has a slash in its name")
    return f"{device}/{port}"


def _content(path: Path) -> bytes:
    try:
        if not stat.S_ISREG(os.lstat(path).st_mode):
            raise Refused("this is no file of its own; links, folders and devices are not read")
        with path.open("rb") as file:
            raw = file.read(MAX_DUMP_BYTES + 1)
    except (OSError, ValueError) as error:
        raise Refused(f"cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if len(raw) > MAX_DUMP_BYTES:
        raise Refused(f"larger than {MAX_DUMP_BYTES // 1024} KB, and the dump of a module's memory is not")
    return raw


def _memory(raw: bytes, place: str) -> ModuleMemory:
    try:
        if len(raw) > MAX_DUMP_BYTES:
            raise Refused(f"larger than {MAX_DUMP_BYTES // 1024} KB, and the dump of a module's memory is not")
        dump = dump_of(raw)
        if not dump.data:
            raise Refused("the file is empty")
        identifier = dump.data[0]
        if identifier == _SFP and dump.start in (None, 0):
            memory, faults = _sfp(dump), faults_of_sfp
        elif identifier in eeprom_qsfp.FORMS:
            memory, faults = _qsfp(dump), faults_of_qsfp
        else:
            raise Refused(_other(dump))
    except Refused as refusal:
        where = f"{place}:{refusal.place[0]}" if place and refusal.place else f"line {refusal.place[0]}" if refusal.place else place
        raise DocumentError([Fault(refusal.path, refusal.message, where)], _WHAT) from None
    found = [Fault(fault.path, fault.message, place) for fault in faults(memory)]
    if found:
        raise DocumentError(found, _WHAT)
    return sfp_memory(memory) if identifier == _SFP else qsfp_memory(memory, lower_page=len(dump.data) > PAGE_BYTES)


def _sfp(dump: Dump) -> bytes:
    """A0h at byte 0, A2h at byte 256 where the dump has it."""
    memory = dump.data
    if len(memory) < eeprom_sfp.BASE_BYTES:
        raise Refused(f"the memory ends after {len(memory)} bytes; an SFP describes itself in its first {eeprom_sfp.BASE_BYTES} (SFF-8472)")
    if dump.second:
        if len(memory) > A2_AT:
            raise Refused(f"the first memory of the dump is {len(memory)} bytes long, and A0h has {A2_AT}")
        memory = memory.ljust(A2_AT, b"\x00") + dump.second
    if len(memory) > _LONGEST_SFP:
        raise Refused(f"the memory is {len(memory)} bytes long; A0h and A2h together have {_LONGEST_SFP} (SFF-8472)")
    return memory


def _qsfp(dump: Dump) -> bytes:
    """Upper page 00h at byte 128."""
    if dump.second:
        raise Refused("the dump starts over at offset 0; write the lower page and the upper pages of a QSFP one after another")
    upper_alone = dump.start == PAGE_BYTES or len(dump.data) <= PAGE_BYTES
    memory = bytes(PAGE_BYTES) + dump.data if upper_alone else dump.data
    if dump.start not in (None, 0, PAGE_BYTES):
        raise Refused(f"the dump begins at offset 0x{dump.start:02x}; it is to begin at 0x00, or at 0x80 with upper page 00h")
    if len(memory) < eeprom_qsfp.BASE_BYTES:
        raise Refused(f"the memory ends after {len(dump.data)} bytes; a QSFP describes itself in bytes 128 to {eeprom_qsfp.BASE_BYTES - 1} (SFF-8636)")
    if memory[PAGE_BYTES] not in eeprom_qsfp.FORMS:
        raise Refused(f"byte 128 is to repeat the identifier, and is 0x{memory[PAGE_BYTES]:02x}; dump the lower page and upper page 00h")
    return memory


def _other(dump: Dump) -> str:
    identifier = dump.data[0]
    readable = "this reads SFP, SFP+ and SFP28 (0x03), QSFP+ (0x0d) and QSFP28 (0x11)"
    if dump.start not in (None, 0, PAGE_BYTES):
        return f"the dump begins at offset 0x{dump.start:02x}; it is to begin with the identifier, at 0x00 (QSFP: or 0x80)"
    if len(set(dump.data)) == 1:
        return f"every byte is 0x{identifier:02x}: nothing is plugged in, or the memory does not answer"
    return f"identifier 0x{identifier:02x} is {IDENTIFIERS.get(identifier, 'of no module that is known')}; {readable}"
