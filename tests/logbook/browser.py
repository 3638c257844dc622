"""A real browser for the tests: Chromium without a window, spoken to through a pair of pipes.

The words are those of the browser's own debugging protocol (Page, Runtime, Log, Network domains), one JSON
object and a zero byte each way.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome")
PATH = next((path for name in NAMES if (path := shutil.which(name))), None)
MISSING = "no chromium here; on Debian: apt-get install chromium"


@dataclass
class Page:
    """An open browser with one page. What it asked for and complained of is kept."""

    to: int
    back: int
    session: str = ""
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    _number: int = 0
    _rest: bytes = b""
    _loaded: bool = False

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """One command, and its answer."""
        self._number += 1
        number = self._number
        words: dict[str, Any] = {"id": number, "method": method, "params": params}
        if self.session:
            words["sessionId"] = self.session
        os.write(self.to, json.dumps(words).encode() + b"\0")
        while True:
            found = self._hear()
            if found.get("id") == number:
                assert "error" not in found, found
                return dict(found["result"])

    def _hear(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            data = os.read(self.back, 1 << 20)
            assert data, "the browser has gone"
            self._rest += data
        line, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(line)
        self._note(found.get("method", ""), found.get("params", {}))
        return found

    def _note(self, event: str, params: dict[str, Any]) -> None:
        if event == "Network.requestWillBeSent":
            self.asked.append(params["request"]["url"])
        elif event in ("Runtime.exceptionThrown", "Runtime.consoleAPICalled", "Log.entryAdded"):
            self.complaints.append(json.dumps(params)[:500])
        elif event == "Page.loadEventFired":
            self._loaded = True

    def open(self, path: Path) -> None:
        """Load a file and wait until all of it is there."""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        self._loaded = False
        self.call("Page.navigate", url=path.as_uri())
        while not self._loaded:
            self._hear()

    def value(self, expression: str) -> Any:
        """What the page says to an expression of the tester's own."""
        found = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        return found["result"].get("value")

    def pdf(self) -> bytes:
        """The page as it prints on A4."""
        found = self.call("Page.printToPDF", paperWidth=8.27, paperHeight=11.69, preferCSSPageSize=True)
        return base64.b64decode(found["data"])

    def picture(self, width: int, media: str = "screen") -> bytes:
        """All of the page as PNG, at a width in pixels, as on a screen or as for print."""
        self.call("Emulation.setEmulatedMedia", media=media)
        size = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        self.call("Emulation.setDeviceMetricsOverride", **size)
        found = self.call("Page.captureScreenshot", captureBeyondViewport=True)
        return base64.b64decode(found["data"])


@contextmanager
def browser(profile: Path) -> Iterator[Page]:
    """A browser with an empty profile; gone at the end."""
    assert PATH is not None, MISSING
    there, to = os.pipe()
    back, here = os.pipe()
    options = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={profile}"]
    words = [PATH, *options, "--remote-debugging-pipe", "about:blank"]
    process = subprocess.Popen(
        ["bash", "-c", f'exec "$@" 3<&{there} 4>&{here}', "browser", *words],
        pass_fds=(there, here),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(there)
    os.close(here)
    try:
        yield Page(to, back)
    finally:
        os.close(to)
        os.close(back)
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
