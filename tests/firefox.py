"""One Firefox without any network, driven by WebDriver BiDi (https://www.w3.org/TR/webdriver-bidi/); without one, tests are skipped as by ``browsing``."""

from __future__ import annotations

import itertools
import json
import os
import re
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import ClientConnection, connect

NAMES = ("firefox-esr", "firefox")
MISSING = "Firefox is not here: apt-get install firefox-esr"
PATIENCE = 60  # seconds until something must have happened, on a machine that does much else
LISTENS = re.compile(r"WebDriver BiDi listening on (ws://\S+)")
NOWHERE = """
user_pref("network.proxy.type", 1);
user_pref("network.proxy.http", "127.0.0.1");
user_pref("network.proxy.http_port", 9);
user_pref("network.proxy.ssl", "127.0.0.1");
user_pref("network.proxy.ssl_port", 9);
user_pref("layout.css.prefers-color-scheme.content-override", 1);
"""
RIGHT = "\ue014"  # the arrow key, as WebDriver writes it
EVENTS = ["log.entryAdded", "network.beforeRequestSent"]


class Firefox:
    """A page with what it said and asked for, clicked and typed into as a reader does."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket, self._numbers = socket, itertools.count(1)
        self.said: list[str] = []
        self.asked: list[str] = []
        self._send("session.new", capabilities={})
        self._send("session.subscribe", events=EVENTS)
        self._context = ""

    def open(self, path: Path) -> None:
        """Open a file in a tab of its own, and wait until all of it is there."""
        former, self._context = self._context, self._send("browsingContext.create", type="tab")["context"]
        if former:
            self._send("browsingContext.close", context=former)
        self.said, self.asked = [], []
        self._send("browsingContext.navigate", context=self._context, url=path.as_uri(), wait="complete")

    def evaluate(self, expression: str) -> Any:
        script = f"(async () => JSON.stringify(await ({expression})) ?? null)()"
        answer = self._send("script.evaluate", expression=script, target={"context": self._context}, awaitPromise=True)
        assert answer["type"] == "success", answer["exceptionDetails"]["text"]
        return json.loads(answer["result"].get("value") or "null")

    def wait(self, expression: str) -> Any:
        """Wait until an expression is true, over pages that change meanwhile; give what it is."""
        until = time.monotonic() + PATIENCE
        while not (found := self.evaluate(expression)):
            assert time.monotonic() < until, f"never came: {expression}"
            time.sleep(0.05)
        return found

    def point(self, selector: str) -> tuple[int, int]:
        """Bring an element into sight; give its middle in the window, which must be its own and not covered."""
        element = f"document.querySelector({json.dumps(selector)})"
        self.evaluate(f"{element}.scrollIntoView({{block: 'center', behavior: 'instant'}})")
        x, y = self.evaluate(f"(b => [b.x + b.width / 2, b.y + b.height / 2])({element}.getBoundingClientRect())")
        assert self.evaluate(f"{element}.contains(document.elementFromPoint({x}, {y}))"), f"covered: {selector}"
        return round(x), round(y)

    def click(self, selector: str) -> None:
        x, y = self.point(selector)
        moves = [
            {"type": "pointerMove", "x": x, "y": y},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        self._act("pointer", moves)

    def type(self, words: str) -> None:
        self._act("key", [{"type": kind, "value": sign} for sign in words for kind in ("keyDown", "keyUp")])

    def foreign(self) -> list[str]:
        return [url for url in self.asked if not url.startswith(("file:", "data:", "blob:", "about:"))]

    def _act(self, kind: str, actions: list[dict[str, Any]]) -> None:
        self._send("input.performActions", context=self._context, actions=[{"type": kind, "id": kind, "actions": actions}])

    def _send(self, method: str, **params: Any) -> dict[str, Any]:
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            told = json.loads(self._socket.recv(timeout=PATIENCE))
            if told.get("id") == number:
                assert told["type"] == "success", f"{method}: {told.get('message')}"
                return dict(told["result"])
            self._hear(told.get("method"), told.get("params", {}))

    def _hear(self, event: str, told: dict[str, Any]) -> None:
        if event == "network.beforeRequestSent":
            self.asked.append(told["request"]["url"])
        if event == "log.entryAdded" and told["level"] in ("warn", "error"):
            self.said.append(told["text"])


@pytest.fixture(scope="session")
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(MISSING)
    profile = tmp_path_factory.mktemp("firefox")
    (profile / "user.js").write_text(NOWHERE, "utf-8")
    command = [path, "--headless", "--no-remote", "--profile", str(profile), "--remote-debugging-port", "0", "about:blank"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True) as running:
        try:
            address = next((m[1] for line in running.stderr or () if (m := LISTENS.search(line))), "")
            assert address, "Firefox did not start"
            with connect(f"{address}/session", max_size=None, proxy=None) as socket:
                yield Firefox(socket)
        finally:
            running.terminate()
