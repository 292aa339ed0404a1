"""A real headless Chromium for the tests of pages, with the network off; skipped where none is."""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--autoplay-policy=no-user-gesture-required",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)
WAIT = 15.0


@contextmanager
def chromium(width: int = 1300, height: int = 900) -> Iterator[Any]:
    """A driver of the browser. Skips the test where browser, driver or Selenium are missing."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="Selenium is not installed")
    browser, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if not browser or not driver:
        pytest.skip("no Chromium with its driver is installed (chromium, chromium-driver)")
    options = webdriver.ChromeOptions()
    options.binary_location = browser
    for argument in (*ARGUMENTS, f"--window-size={width},{height}"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    opened = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    try:
        yield opened
    finally:
        opened.quit()


def show(browser: Any, path: Path) -> None:
    """Open a page from disk and wait until it says that it is ready."""
    browser.get(path.as_uri())
    until(browser, "return document.body.dataset.ready")


def until(browser: Any, script: str, *arguments: object) -> Any:
    """The first true value of a script; fails after `WAIT` seconds."""
    end = time.monotonic() + WAIT
    while time.monotonic() < end:
        value = browser.execute_script(script, *arguments)
        if value:
            return value
        time.sleep(0.05)
    raise AssertionError(f"not true within {WAIT:g} seconds: {script}")


def errors(browser: Any) -> list[str]:
    """Warnings and errors on the console since the last call."""
    entries = browser.get_log("browser")
    return [e["message"] for e in entries if e["level"] in ("SEVERE", "WARNING")]


def asked_for(browser: Any) -> set[str]:
    """Addresses that were asked for since the last call, without those inside the page."""
    found: set[str] = set()
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            found.add(message["params"]["request"]["url"])
    return {url for url in found if not url.startswith(("data:", "blob:", "about:", "chrome:"))}
