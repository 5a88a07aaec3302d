"""A folder of answers, a file each: a study that was cut off goes on where it was."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from optiselect.errors import OptiselectError
from optiselect.formats.writing import write_whole
from optiselect.study.answer import Answer

_FORMAT = "optiselect-answer/1"


class Store:
    """Answers by key. A file is there as a whole or not at all; what is not readable is solved again.

    Raises:
        OptiselectError: when the folder cannot be made or written to.
    """

    def __init__(self, folder: str | Path) -> None:
        self._folder = Path(folder)
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OptiselectError(f"{self._folder.name}: the folder for the answers cannot be made: {error.strerror}") from None

    def read(self, key: str) -> Answer | None:
        """The answer of a key, None when there is none that can be used."""
        try:
            told: Any = json.loads(self._path(key).read_bytes())
            if told["format"] != _FORMAT or told["key"] != key:
                return None
            return Answer.from_json(told["answer"])
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None

    def write(self, key: str, answer: Answer) -> None:
        """Keep an answer that holds a plan; what failed or was lost is tried again the next time.

        Raises:
            OptiselectError: when the file cannot be written.
        """
        if not answer.plan_json:
            return
        told = {"format": _FORMAT, "key": key, "answer": answer.to_json()}
        try:
            write_whole(self._path(key), json.dumps(told, ensure_ascii=False).encode())
        except OSError as error:
            raise OptiselectError(f"{self._folder.name}: an answer cannot be written: {error.strerror}") from None

    def _path(self, key: str) -> Path:
        return self._folder / f"{key}.json"
