"""The theme's search in Chromium: its worker alone, with its index open to view, and the box of a page, typed into."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast

import material
from playwright.sync_api import Page

from benchrecord.publish.site_search.indexed_text import PIPELINE, SEPARATOR

BOX, STATUS, RESULT = ".md-search__input", ".md-search-result__meta", ".md-search-result__link"
CONFIG = {
    "lang": ["en"],
    "separator": SEPARATOR,
    "pipeline": list(PIPELINE),
    "fields": {"title": {"boost": 1000}, "text": {"boost": 1}, "tags": {"boost": 1000000}},
}
# What a worker has around it, in a page: answers are collected, and the index is kept when it is built.
_AROUND = """window.answers = []; window.postMessage = (message) => answers.push(message); null"""
_KEEP_INDEX = """(() => {
  const { build } = lunr.Builder.prototype;
  lunr.Builder.prototype.build = function () { return window.built = build.call(this); };
})();"""
_SEND = """async (message) => {
  dispatchEvent(new MessageEvent("message", { data: message }));
  while (!answers.length) await new Promise((resume) => setTimeout(resume));
  return answers.pop();
}"""


def installed_worker() -> bytes:
    """Return the search worker of the theme as it is installed."""
    (path,) = Path(material.__file__).parent.glob("templates/assets/javascripts/workers/search.*.min.js")
    return path.read_bytes()


class SearchWorker:
    """A search worker that runs in a page of its own."""

    def __init__(self, page: Page, worker: bytes) -> None:
        self.page = page
        page.goto("about:blank")
        page.evaluate(_AROUND)
        page.add_script_tag(content=worker.decode())
        page.evaluate(_KEEP_INDEX)

    def index(self, docs: Sequence[dict[str, str]], config: dict[str, Any] | None = None) -> dict[str, Any]:
        """Index documents, and return what the worker answers."""
        message = {"type": 0, "data": {"config": config or CONFIG, "docs": docs, "options": {}}}
        return cast(dict[str, Any], self.page.evaluate(_SEND, message))

    def words(self) -> set[str]:
        """Return the words that the index has."""
        return set(self.page.evaluate("Object.keys(built.invertedIndex)"))

    def graph(self) -> set[str]:
        """Return the words that the word graph has."""
        return set(self.page.evaluate("built.tokenSet.toArray()"))

    def ask(self, query: str) -> dict[str, Any]:
        """Return what the worker answers to a query in its own signs."""
        return cast(dict[str, Any], self.page.evaluate(_SEND, {"type": 2, "data": query}))
