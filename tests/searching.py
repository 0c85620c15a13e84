"""The theme's search in Chromium: its worker alone, with its index open to view, and the box of a page, typed into."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Sequence
from html import unescape
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
    return _installed().read_bytes()


def installed_worker_name() -> str:
    """Return the name of that file."""
    return _installed().name


def _installed() -> Path:
    (path,) = Path(material.__file__).parent.glob("templates/assets/javascripts/workers/search.*.min.js")
    return path


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
        return cast("dict[str, Any]", self.page.evaluate(_SEND, message))

    def words(self) -> set[str]:
        """Return the words that the index has."""
        return set(self.page.evaluate("Object.keys(built.invertedIndex)"))

    def graph(self) -> set[str]:
        """Return the words that the word graph has."""
        return set(self.page.evaluate("built.tokenSet.toArray()"))

    def ask(self, query: str) -> dict[str, Any]:
        """Return what the worker answers to a query in its own signs."""
        return cast("dict[str, Any]", self.page.evaluate(_SEND, {"type": 2, "data": query}))

    def milliseconds(self, query: str) -> float:
        """Return how long an answer takes."""
        return float(
            self.page.evaluate(
                f"async (message) => {{ const t = performance.now(); await ({_SEND})(message); return performance.now() - t; }}",
                {"type": 2, "data": query},
            )
        )


# The words that a reader sees apart: two texts without a blank between them are one word only where they touch on one line.
_TEXT = """(hidden) => {
  const root = document.querySelector(".md-content__inner");
  root.querySelectorAll("details").forEach((e) => { e.open = true; });
  root.querySelectorAll("[hidden]").forEach((e) => { e.hidden = false; });
  const box = (node, at) => {
    const range = document.createRange();
    range.setStart(node, at);
    range.setEnd(node, at + 1);
    return range.getBoundingClientRect();
  };
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  let text = "", before;
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data || node.parentElement.closest(hidden)) continue;
    if (before) {
      const a = box(before, before.data.length - 1), b = box(node, 0);
      text += a.width && b.width && Math.abs(b.left - a.right) < 1.5 && a.top < b.bottom && b.top < a.bottom ? "" : " ";
    }
    text += node.data;
    before = node;
  }
  return text;
}"""


def visible_words(page: Page) -> set[str]:
    """Return the words of a page's content as a reader sees them, but for drawings and what is not to be found."""
    text = page.evaluate(_TEXT, "svg, script, style, .headerlink, [data-search-exclude]")
    return {word.lower() for word in re.split(SEPARATOR, text) if word}


def indexed_words(site: Path) -> dict[str, set[str]]:
    """Return the words that the index of a site has of each page."""
    words: dict[str, set[str]] = defaultdict(set)
    for doc in json.loads((site / "search/search_index.json").read_text("utf-8"))["docs"]:
        text = re.sub(r"<[^>]+>", " ", f"{doc['title']} {doc['text']}")
        words[doc["location"].partition("#")[0]] |= {unescape(word).lower() for word in re.split(SEPARATOR, text) if word}
    return words


class SearchBox:
    """The search box of an open page."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.click(BOX)
        page.wait_for_function(f"document.querySelector('{STATUS}').textContent == 'Type to start searching'", timeout=60_000)

    def ask(self, typed: str) -> str:
        """Type into the empty box, and return what it says."""
        self.page.fill(BOX, "")
        self.page.wait_for_function(f"document.querySelector('{STATUS}').textContent == 'Type to start searching'")
        self.page.fill(BOX, typed)
        self.page.wait_for_function(f"document.querySelector('{STATUS}').textContent != 'Type to start searching'")
        return self.page.inner_text(STATUS)

    def found(self, typed: str) -> list[str]:
        """Return the texts of the first results, their pages first."""
        self.ask(typed)
        return self.page.eval_on_selector_all(".md-search-result__item", "items => items.map(i => i.textContent)")  # type: ignore[no-any-return]

    def links(self, typed: str) -> list[str]:
        """Return where the first results lead."""
        self.ask(typed)
        return self.page.eval_on_selector_all(RESULT, "links => links.map(l => l.href)")  # type: ignore[no-any-return]
