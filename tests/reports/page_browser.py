"""A headless Chromium that a test drives over a pipe; nothing of it is a dependency.

The protocol is one JSON message after another, each ended by a zero byte, on file descriptors
3 (to the browser) and 4 (from it): https://chromedevtools.github.io/devtools-protocol/
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--disable-dev-shm-usage", "--disable-extensions", "--no-default-browser-check"),
)
BROWSERS_ENDS = (3, 4)
PATIENCE = 60.0  # seconds for an answer of the browser


def chromium() -> str:
    """The browser's name, or the test is skipped; in CI it may not be missing."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("Chromium is not installed, and in CI its tests may not be skipped")
        pytest.skip("Chromium is not installed: the page cannot be driven")
    return found


def dumped(page: Path, address: str = "") -> str:
    """The document of a page after its script has run, as text."""
    with tempfile.TemporaryDirectory() as profile:
        command = [chromium(), *FLAGS, f"--user-data-dir={profile}", "--dump-dom"]
        url = page.as_uri() + address
        done = subprocess.run([*command, url], capture_output=True, timeout=PATIENCE, check=True)
    return done.stdout.decode("utf-8")


class Browser:
    """One tab of a browser, and every request that its pages made."""

    def __init__(self, profile: str) -> None:
        to_read, self._to = os.pipe()
        self._from, to_write = os.pipe()
        flags = [*FLAGS, f"--user-data-dir={profile}", "--remote-debugging-pipe", "about:blank"]

        def place() -> None:
            """In the new process: put the pipes where the browser looks for them."""
            high = [fcntl.fcntl(each, fcntl.F_DUPFD, 10) for each in (to_read, to_write)]
            for each, wanted in zip(high, BROWSERS_ENDS, strict=True):
                os.dup2(each, wanted)

        self._process = subprocess.Popen(
            [chromium(), *flags],
            preexec_fn=place,
            pass_fds=BROWSERS_ENDS,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._buffer = b""
        self._number = self._opened = 0
        self._session: str | None = None
        self.requests: list[str] = []
        self.said: list[str] = []  # errors and messages of the page
        try:
            self._attach()
        except BaseException:
            self._process.kill()
            self._process.wait()
            raise

    def _attach(self) -> None:
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser."""
        with contextlib.suppress(OSError, AssertionError):
            self.call("Browser.close")
        os.close(self._to)
        os.close(self._from)
        self._process.wait(timeout=PATIENCE)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Ask the browser for something and wait for its answer."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if self._session is not None and not method.startswith(("Target.", "Browser.")):
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        for answer in self._messages():
            if answer.get("id") == self._number:
                assert "error" not in answer, f"{method}: {answer['error']}"
                result = answer["result"]
                assert isinstance(result, dict)
                return result
        raise AssertionError(f"no answer to {method}")

    def open(self, page: Path, address: str = "") -> None:
        """Open a page anew and wait until it is there. The question, which no page reads, makes it
        another address than before, so that the browser does not only go to a place on the page."""
        self._opened += 1
        here = f"?{self._opened}"
        self.call("Page.navigate", url=page.as_uri() + here + address)
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if self.run(f"document.readyState === 'complete' && location.search === '{here}'"):
                return
            time.sleep(0.02)
        raise AssertionError("the page did not load")

    def run(self, script: str) -> Any:
        """What a script gives in the page."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def press(self, key: str, code: int) -> None:
        """A key pressed and let go, as from a keyboard."""
        for kind in ("rawKeyDown", "keyUp"):
            named = {"key": key, "code": key, "windowsVirtualKeyCode": code}
            self.call("Input.dispatchKeyEvent", type=kind, **named)

    def width(self, pixels: int, height: int = 900) -> None:
        """Make the window so wide."""
        size = {"width": pixels, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.call("Emulation.setDeviceMetricsOverride", **size)

    def _messages(self) -> Iterator[dict[str, Any]]:
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            while b"\0" in self._buffer:
                raw, self._buffer = self._buffer.split(b"\0", 1)
                message = json.loads(raw)
                self._note(message)
                yield message
            if select.select([self._from], [], [], 1.0)[0]:
                more = os.read(self._from, 1 << 20)
                assert more, "the browser has gone"
                self._buffer += more

    def _note(self, message: dict[str, Any]) -> None:
        params = message.get("params", {})
        match message.get("method"):
            case "Network.requestWillBeSent":
                self.requests.append(params["request"]["url"])
            case "Runtime.exceptionThrown":
                self.said.append(str(params["exceptionDetails"]))
            case "Log.entryAdded":
                self.said.append(str(params["entry"]["text"]))
            case "Page.javascriptDialogOpening":
                self.said.append("dialog: " + str(params["message"]))


@contextlib.contextmanager
def browser() -> Iterator[Browser]:
    """A browser with an empty profile of its own."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        opened = Browser(profile)
        try:
            yield opened
        finally:
            opened.close()
