"""How the work of a function grows with its text: what takes four times as long for four times as much grows linearly.

No limit in seconds is set: a slow machine is no fault. What is too quick to be measured at the larger size has no search that goes
over the rest of a text again and again.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Iterable, Iterator

# Beginnings of everything that Markdown, YAML and tables look for the end of, and what may lie between.
FRAGMENTS = [
    "[", "]", "![", "![a](", "[a](", "[a](b ", "[a](<b", '[a](b "', "[a](it's)", "[a][", "[[a]", "[a]: b\n", "\n[a]: <", "[^1]", "](", "(", "()",
    "<!--", "<!-- a", "-->", "<", "<a ", '<a href="', "</", "<http://a", "http://a ", "&a", "`", "` ", "``a`", "`a ``", "```\n", "~~~\na\n",
    "*", "**a ", "*a ", "_a ", "***a**", "\\", "\\`", "> ", ">", "- ", "1. ", "    ", "\t", " ", "\u00a0", "\n", " \n", "\n\n", "# ", "# a \n", "a\n=\n", "=\n", "---\n", "|", "|a\n",
    "R1", "R1/", "R1 - ", "psu:R1 ", "a:", "a-", "A1a", "1,", "1.", '"', "'", ' "', ' \\"', " '", "{", "{a: ", "[a, ", "a: ", "- a:\n", "&a ", "*a ", "é", "\ue03c", "edition: ", "edition|", ",edition", "title: a\n",
]  # fmt: skip
AROUND = [("", "b"), ("<!-- [ `\n---\n", "\n")]
LARGE, TIMES = 40_000, 4  # characters, and how many times as many as in the smaller text
QUICK_S = 0.08  # less than this cannot be compared
MAX_RATIO = 9.0  # 4 for linear, 16 for quadratic


def adversarial() -> Iterator[tuple[str, Callable[[int], str]]]:
    """Yield (what it is, text of a length) for each fragment repeated between something else."""
    for fragment in FRAGMENTS:
        for before, behind in AROUND:
            yield f"{before!r} {fragment!r} × n {behind!r}", _repeated(before, fragment, behind)


def _repeated(before: str, fragment: str, behind: str) -> Callable[[int], str]:
    return lambda length: before + fragment * (length // len(fragment)) + behind


def seconds(work: Callable[[str], object], text: str, turns: int = 1) -> float:
    """Return the least processor time that work on a text took."""
    found = []
    gc.disable()  # its turns depend on what else there is
    for _ in range(turns):
        started = time.process_time()
        work(text)
        found.append(time.process_time() - started)
    gc.enable()
    return min(found)


def growing_too_fast(
    work: Callable[[str], object], texts: Iterable[tuple[str, Callable[[int], str]]], length: int = LARGE
) -> list[str]:
    """Return which texts take more than in proportion to their length, with the ratio; what seems so is measured again."""
    return [f"{name}: {ratio:.1f}" for name, text in texts if (ratio := _ratio(work, text, length)) > MAX_RATIO]


def _ratio(work: Callable[[str], object], text: Callable[[int], str], length: int) -> float:
    ratio = 0.0
    for turns in (1, 3):
        large = seconds(work, text(length), turns)
        if large < QUICK_S:
            return 0.0
        ratio = large / max(seconds(work, text(length // TIMES), turns), 1e-6)
        if ratio < MAX_RATIO:
            break
    return ratio
