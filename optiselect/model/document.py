"""What every noun and every document has in common: frozen values, strict figures, all faults at once."""

from __future__ import annotations

import math
import re
from collections.abc import Hashable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, NoReturn, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError, model_validator
from pydantic_core import CoreSchema, core_schema

from optiselect.errors import DocumentError, Fault, NewerFormatError
from optiselect.model.wording import faults_of

_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_MAX_DIGITS = 40
MAX_FIGURE = 10**15
"""No figure of a document is larger; most have closer bounds."""


class PlainText(str):
    """A plain (unquoted) YAML scalar or a spreadsheet cell: its source text, which a field may read as a number or yes/no.

    An ordinary ``str`` is never read as a number, so a quoted "60" in a document stays a fault where a number is due.
    """

    __slots__ = ()


def _plain_number(value: Any) -> Any:
    """Read a number by the JSON grammar only; ``010``, ``1_000``, ``0x10``, ``12:30``, NaN and infinity are refused."""
    if isinstance(value, PlainText):
        if len(value) > _MAX_DIGITS or not _NUMBER.fullmatch(value):
            raise ValueError(f"write a plain decimal number here, not {value[:40]!r}")
        value = float(value)
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a finite number is due here")
    if isinstance(value, bool | str):
        raise ValueError("a number is due here, without quotes")
    if isinstance(value, int | float) and abs(value) > MAX_FIGURE:
        raise ValueError("this number is beyond any physical range")
    return value


def _plain_integer(value: Any) -> Any:
    number = _plain_number(value)
    if isinstance(number, float):
        if not math.isfinite(number) or number != int(number):
            raise ValueError("a whole number is due here")
        return int(number)
    return number


def _plain_yes_no(value: Any) -> Any:
    if isinstance(value, PlainText):
        if value not in ("true", "false"):
            raise ValueError(f"write true or false here, not {str(value)[:40]!r}")
        return value == "true"
    if not isinstance(value, bool):
        raise ValueError("true or false is due here")
    return value


AS_NUMBER = BeforeValidator(_plain_number)
"""Reads a number; stands last in an annotation, since bounds that stand after it are lost to the JSON Schema."""
AS_INTEGER = BeforeValidator(_plain_integer)
"""As `AS_NUMBER`, for whole numbers."""
Strands = Annotated[Literal[1, 2, 8], AS_INTEGER]
"""Strands that a transceiver uses: one, a pair, or parallel optics."""
YesNo = Annotated[bool, BeforeValidator(_plain_yes_no)]
Id = Annotated[str, Field(min_length=1, max_length=20_000, pattern=r"^[^/]+$")]
"""An id: non-empty text without a slash (a port is written ``device/port``)."""
Text = Annotated[str, Field(max_length=20_000)]
Told = Annotated[str, Field(max_length=1_000_000)]
"""What the library says about a document: a sentence may name many ids, each as long as an id may be."""

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Figures(dict[K, V]):
    """A frozen, hashable mapping of figures, for example published reach by fiber grade."""

    def _refuse(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("figures of a document are frozen")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(frozenset(self.items()))

    def __reduce__(self) -> tuple[Any, ...]:
        return Figures, (dict(self),)

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        written: dict[str, Any] = handler(schema)
        for pattern, figure in written.pop("patternProperties", {}).items():
            written |= {"propertyNames": {"pattern": pattern}, "additionalProperties": figure}  # a name of another pattern is not let through
        return written

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        key, value = getattr(source, "__args__", (Any, Any))  # bare when pydantic writes a default into a JSON Schema
        return core_schema.no_info_after_validator_function(cls, handler(dict[key, value]))  # type: ignore[valid-type]


class Noun(BaseModel):
    """A frozen value: equal when its fields are equal, hashable, closed to unknown keys.

    Raises:
        pydantic.ValidationError: (a ValueError) when constructed from values outside their ranges.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=False, ser_json_inf_nan="constants")

    def model_post_init(self, context: Any, /) -> None:
        """Let values that state the same fields share the set of their names: a large network has few such sets, many times."""
        object.__setattr__(self, "__pydantic_fields_set__", _shared(self.model_fields_set))

    def _count_as_stated(self, name: str) -> None:
        """Count a field as stated, though its value is the default."""
        object.__setattr__(self, "__pydantic_fields_set__", _shared(self.model_fields_set | {name}))

    @classmethod
    def of_own(cls, **stated: Any) -> Self:
        """Build from values that are the library's own and need no validation; a field that is not given has its default.

        As `model_construct`, in less than half of the time, and values that state the same fields share the set of their names.
        """
        key = cls, *stated
        if key not in _STATED:
            defaults = {name: None if field.is_required() else field.default for name, field in cls.model_fields.items()}
            _STATED[key] = defaults, _shared(set(stated))
        defaults, names = _STATED[key]
        noun = _new(cls)
        _put(noun, "__dict__", defaults | stated)
        _put(noun, "__pydantic_fields_set__", names)
        _put(noun, "__pydantic_extra__", None)
        _put(noun, "__pydantic_private__", None)
        return noun

    @classmethod
    def of_whole(cls, stated: dict[str, Any]) -> Self:
        """The same, of every field in order; the mapping becomes the noun's own."""
        names = _WHOLE.get(cls)
        if names is None:
            names = _WHOLE[cls] = _shared(set(cls.model_fields))
        noun = _new(cls)
        _put(noun, "__dict__", stated)
        _put(noun, "__pydantic_fields_set__", names)
        _put(noun, "__pydantic_extra__", None)
        _put(noun, "__pydantic_private__", None)
        return noun

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """As of pydantic (no validation of what is updated); what was looked up in the original is looked up anew in a copy that differs."""
        copied = super().model_copy(update=update, deep=deep)
        if update:
            for name in copied.__dict__.keys() - type(self).model_fields.keys():
                del copied.__dict__[name]
        return copied

    def stated(self) -> dict[str, Any]:
        """Return what the document states, as plain JSON values, without keys that were left out."""
        return self.model_dump(mode="json", exclude_unset=True, by_alias=True)


def _shared(names: set[str]) -> set[str]:
    """The one set of these names; nobody writes on it, since a noun is frozen and a copy has a set of its own."""
    key = frozenset(names)
    return _NAMES.get(key) or _NAMES.setdefault(key, set(names))


_new, _put = object.__new__, object.__setattr__
_NAMES: dict[frozenset[str], set[str]] = {}
_WHOLE: dict[type, set[str]] = {}
"""By noun, the names of all its fields."""
_STATED: dict[tuple[Any, ...], tuple[dict[str, Any], set[str]]] = {}
"""By noun and fields that are given: what it holds before they are, and their names."""


class Document(Noun):
    """A noun that is read from and saved to files, with a format number.

    Raises:
        DocumentError: when built from wrong data; it lists every fault.
    """

    format_name: ClassVar[str]
    format_number: ClassVar[int] = 1
    what: ClassVar[str]

    def __init__(self, /, **data: Any) -> None:
        try:
            super().__init__(**data)
        except ValidationError as error:
            faults = faults_of(error, data)
            faulty = {fault.path for fault in faults}
            faults += [fault for fault in self._faults_across(data) if fault.path not in faulty]
            raise DocumentError(faults, self.what) from None

    @classmethod
    def _faults_across(cls, data: Mapping[str, Any]) -> Iterator[Fault]:
        """Faults between the parts of raw data, so that they are listed together with faults inside the parts."""
        yield from ()

    @model_validator(mode="before")
    @classmethod
    def _format_is_ours(cls, data: Any) -> Any:
        if not isinstance(data, Mapping):
            return data
        given = data.get("format", cls.format())
        name, _, number = str(given).partition("/")
        if name == cls.format_name and re.fullmatch("[1-9][0-9]{0,4}", number) and int(number) > cls.format_number:
            raise NewerFormatError([Fault("format", f"{given} is newer than this library reads ({cls.format()}); install a newer optiselect")], cls.what)
        if given != cls.format():
            raise DocumentError([Fault("format", f"{str(given)[:80]!r} is not a {cls.what} that this library reads; write {cls.format()}")], cls.what)
        return data

    @classmethod
    def format(cls) -> str:
        """The format name and number that this class writes, for example ``optiselect-network/1``."""
        return f"{cls.format_name}/{cls.format_number}"

    @classmethod
    def load(cls, path: str | Path) -> Self:
        """Read a document by its file suffix (.yaml, .yml, .json; network and catalog also .xlsx or a folder of CSV).

        Raises:
            DocumentError: with every fault of the file and its place.
        """
        from optiselect.formats import reading  # the one door from a noun to its file forms

        return reading.load(cls, Path(path))

    def save(self, path: str | Path) -> None:
        """Write the document by its file suffix; the file is replaced as a whole or not at all.

        So is a folder of CSV that is new. In one that is there already a save that fails leaves the old tables, but a machine that
        stops between two renames can leave tables of both saves.

        Raises:
            DocumentError: when the suffix is not one that this document can be written in.
        """
        from optiselect.formats import writing

        writing.save(self, Path(path))
