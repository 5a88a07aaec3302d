"""Headless Chromium, spoken to through its debugging pipe (Chrome DevTools Protocol): no port, no library."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_PATIENCE_S = 30.0


def browser_path() -> str | None:
    """Where a browser is installed, None where there is none."""
    return next((found for found in map(shutil.which, NAMES) if found), None)


class Page:
    """One page of a browser of its own."""

    def __init__(self, path: str) -> None:
        self._profile = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        their_in, self._out = os.pipe()
        self._in, their_out = os.pipe()
        asked = ("--headless=new", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run")
        command = ["bash", "-c", 'exec 3<&"$1" 4>&"$2"; shift 2; exec "$@"', "browser", str(their_in), str(their_out), path, *asked]
        self._process = subprocess.Popen(
            [*command, f"--user-data-dir={self._profile.name}", "about:blank"],
            pass_fds=(their_in, their_out),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(their_in)
        os.close(their_out)
        self._number, self._buffer = 0, b""
        self._session: str | None = None
        self.events: list[dict[str, Any]] = []
        target = self._call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self._call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self._call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser that was started here."""
        self._process.terminate()
        self._process.wait(_PATIENCE_S)
        os.close(self._in)
        os.close(self._out)
        self._profile.cleanup()

    def open(self, path: Path) -> None:
        """Load a file and wait until it is there; events of pages before it are forgotten."""
        self.events.clear()
        self._call("Page.navigate", url=path.as_uri())
        self._wait(lambda: any(event["method"] == "Page.loadEventFired" for event in self.events))

    def run(self, script: str) -> Any:
        """The value of an expression in the page."""
        answer = self._call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise AssertionError(answer["exceptionDetails"]["exception"].get("description", answer["exceptionDetails"]["text"]))
        return answer["result"].get("value")

    def press(self, key: str, code: int) -> None:
        """Press a key."""
        text = "\r" if key == "Enter" else ""
        self._call("Input.dispatchKeyEvent", type="keyDown", key=key, windowsVirtualKeyCode=code, text=text)
        self._call("Input.dispatchKeyEvent", type="keyUp", key=key, windowsVirtualKeyCode=code)

    def pdf(self) -> bytes:
        """The page as it prints, on the paper that its style sheet asks for."""
        return base64.b64decode(self._call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"])

    def complaints(self) -> list[str]:
        """Everything that the page wrote on the console, and every error."""
        kinds = ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded")
        return [json.dumps(event) for event in self.events if event["method"] in kinds]

    def requests(self) -> list[str]:
        """Every address that the page asked for, itself and what it carries in itself apart."""
        asked = [event["params"]["request"]["url"] for event in self.events if event["method"] == "Network.requestWillBeSent"]
        return [url for url in asked[1:] if not url.startswith("data:")]

    def _call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        number = self._number
        message = {"id": number, "method": method, "params": params, **({"sessionId": self._session} if self._session else {})}
        os.write(self._out, json.dumps(message).encode() + b"\0")
        answers: list[dict[str, Any]] = []
        self._wait(lambda: bool(answers), lambda told: answers.append(told) if told.get("id") == number else None)
        if "error" in answers[0]:
            raise AssertionError(f"{method}: {answers[0]['error']}")
        result: dict[str, Any] = answers[0]["result"]
        return result

    def _wait(self, ready: Callable[[], bool], listen: Callable[[dict[str, Any]], object] = lambda told: None) -> None:
        until = time.monotonic() + _PATIENCE_S
        while not ready():
            if not select.select([self._in], [], [], max(0.0, until - time.monotonic()))[0]:
                raise AssertionError(f"the browser says nothing for {_PATIENCE_S:g} s")
            self._buffer += os.read(self._in, 1 << 20)
            *whole, self._buffer = self._buffer.split(b"\0")
            for text in whole:
                told = json.loads(text)
                if "method" in told:
                    self.events.append(told)
                listen(told)
