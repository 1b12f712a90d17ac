"""Debian's Chromium, driven through its own driver: no download, a fresh profile, nothing outside.

Every request of the browser but those to the desk goes to a proxy that does not exist.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

DRIVER = "/usr/bin/chromedriver"
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--disable-dev-shm-usage", "--disable-extensions", "--no-default-browser-check"),
    # A dead proxy: what is not for the desk itself goes nowhere, and is seen to.
    *("--proxy-server=127.0.0.1:9", "--proxy-bypass-list=127.0.0.1;evil.example"),
    # A name of somebody else that leads to this machine, as in a rebinding attack.
    "--host-resolver-rules=MAP evil.example 127.0.0.1",
)
PATIENCE = 60.0  # [s]
# Looked for in one go by the page: to ask the driver about one element after the other takes it
# and the browser ten times the work.
SHOWN = """
const shown = (each) => each.checkVisibility({ opacityProperty: true, visibilityProperty: true });
"""
ELEMENT = f"""{SHOWN}
const found = [...document.querySelectorAll(arguments[0])].find(shown);
"""
BUTTON = f"""{SHOWN}
const [within, words] = arguments, plain = (text) => text.replace(/\\s+/g, " ").trim();
const found = [...document.querySelectorAll(`${{within}} button`)].find((each) => shown(each) &&
  !each.matches(":disabled") && [plain(each.innerText), each.ariaLabel].includes(words));
"""
# In the middle of the window, where nothing that stays at its edge covers it.
IN_SIGHT = """
found?.scrollIntoView({ block: "center" });
return found ?? null;
"""


def driver_path() -> str:
    """The driver of the system, or the test is skipped; in CI it may not be missing."""
    chromium = shutil.which("chromium")
    if chromium is None or not os.path.exists(DRIVER):
        if os.environ.get("CI") == "true":
            pytest.fail(
                "Chromium or its driver is not installed, and in CI they may not be missing"
            )
        pytest.skip("Chromium or its driver is not installed: the desk cannot be driven")
    return DRIVER


class Window:
    """A browser with one profile of its own, and what a person does with it."""

    def __init__(self, driver: webdriver.Chrome, downloads: Path) -> None:
        self.driver, self.downloads = driver, downloads

    def open(self, address: str) -> None:
        """Go to an address."""
        self.driver.get(address)

    def run(self, script: str, *args: Any) -> Any:
        """What a script gives in the page."""
        return self.driver.execute_script(script, *args)

    def all(self, css: str) -> list[WebElement]:
        """Elements that are there now."""
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def one(self, css: str) -> WebElement:
        """An element, once it is there and shown."""
        found: WebElement = self.wait(lambda: self.run(ELEMENT + IN_SIGHT, css))
        return found

    def button(self, words: str, within: str = "body") -> WebElement:
        """A button that can be pressed, by its words or its name for a screen reader."""
        found: WebElement = self.wait(lambda: self.run(BUTTON + IN_SIGHT, within, words))
        return found

    def text(self, css: str = "body") -> str:
        """The text of an element."""
        return str(self.run("return document.querySelector(arguments[0])?.innerText ?? ''", css))

    def wait(self, look: Callable[[], Any], seconds: float = PATIENCE) -> Any:
        """What `look` gives, once it gives anything."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            with contextlib.suppress(StaleElementReferenceException):
                if found := look():
                    return found
            time.sleep(0.1)  # a look takes the browser some work
        raise AssertionError(f"waited for nothing; the page has: {self.text()[:3000]}")

    def wait_for_text(self, words: str, css: str = "body") -> None:
        """Wait until an element says something."""
        self.wait(lambda: words in self.text(css))

    def size(self, wide: int, high: int) -> None:
        """Make the page so large."""
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": wide, "height": high, "deviceScaleFactor": 1, "mobile": False},
        )

    def picture(self, path: Path) -> None:
        """The whole page as it is shown."""
        import base64

        shot = self.driver.execute_cdp_cmd(
            "Page.captureScreenshot", {"captureBeyondViewport": True, "format": "png"}
        )
        path.write_bytes(base64.b64decode(shot["data"]))

    def downloaded(self, name: str) -> bytes:
        """A file that was downloaded, once it is whole."""
        path = self.downloads / name
        self.wait(lambda: path.exists() and not list(self.downloads.glob("*.crdownload")))
        return path.read_bytes()

    def complaints(self) -> list[str]:
        """What the console of the browser has said since it was last asked."""
        return [entry["message"] for entry in self.driver.get_log("browser")]


@contextlib.contextmanager
def window(*more: str, traffic: bool = False) -> Iterator[Window]:
    """A browser with an empty profile; traffic: what it asks for is kept in its log."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        options = Options()
        options.binary_location = shutil.which("chromium") or ""
        downloads = Path(folder, "downloads")
        downloads.mkdir()
        for flag in (*FLAGS, *more, f"--user-data-dir={folder}/profile"):
            options.add_argument(flag)
        options.add_experimental_option(
            "prefs",
            {"download.default_directory": str(downloads), "download.prompt_for_download": False},
        )
        kept = {"browser": "ALL", **({"performance": "ALL"} if traffic else {})}
        options.set_capability("goog:loggingPrefs", kept)
        service = Service(driver_path(), env={**os.environ, "SE_OFFLINE": "true"})
        driver = webdriver.Chrome(options=options, service=service)
        driver.set_script_timeout(PATIENCE)
        try:
            yield Window(driver, downloads)
        finally:
            driver.quit()
