"""One Chromium for all tests; without one they are skipped, except where CI is set."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
ARGS += ["--disable-component-update", "--disable-sync"]
MISSING = "Chromium is not here: apt-get install chromium"


def executable() -> str | None:
    """Return where Chromium is, if it is installed."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = executable()
    if path is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(MISSING)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=ARGS)
        yield running
        running.close()


class Watched:
    """A page with what it said and asked for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.said: list[str] = []
        self.asked: list[str] = []
        page.on("console", lambda m: self.said.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: self.said.append(str(e)))
        page.on("request", lambda r: self.asked.append(r.url))

    def open(self, path: Path, anchor: str = "") -> Page:
        """Open a file and wait until all of it is there."""
        self.page.goto(path.as_uri() + (f"#{anchor}" if anchor else ""), wait_until="load")
        return self.page

    def foreign(self) -> list[str]:
        return [url for url in self.asked if not url.startswith(("file:", "data:", "blob:", "about:"))]


@pytest.fixture
def wide(browser: Browser) -> Iterator[Watched]:
    yield from _watched(browser, 1280, 900, "light")


@pytest.fixture
def narrow(browser: Browser) -> Iterator[Watched]:
    yield from _watched(browser, 390, 844, "dark")


def _watched(browser: Browser, width: int, height: int, scheme: str) -> Iterator[Watched]:
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)  # type: ignore[arg-type]
    try:
        yield Watched(context.new_page())
    except Error as error:
        pytest.fail(str(error))
    finally:
        context.close()
