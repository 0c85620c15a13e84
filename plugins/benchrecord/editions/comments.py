"""Comments in the words of a job (captions, titles, cells, values), which are for nobody to read, in any edition."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from functools import lru_cache
from typing import Any, TypeVar

from benchrecord.problems import Place

Part = TypeVar("Part")
OPENED = "<!--"
COMMENT = re.compile(r"<!--.*?(?:-->|\Z)", re.DOTALL)  # one that is never closed goes on to the end
# Names of files, and a note's body, whose comments are Markdown's: there they may stand in code.
NOT_WORDS = frozenset({"file", "photo", "cover", "recording", "content", "body"})


def without_comments_anywhere(part: Part) -> Part:
    """Return a part of a job without a comment in any of its words; names of files stay as they are."""
    kind: Any = part.__class__
    values = {name: getattr(part, name) for name in _names(kind)}
    changed = {name: new for name, value in values.items() if (new := _cleaned(value)) is not value}
    return replace(part, **changed) if changed else part  # type: ignore[type-var]  # every part of a job is a dataclass


def uncommented(text: str) -> str:
    """Return words without their comments, which may stand anywhere in them."""
    return COMMENT.sub(" ", text).replace("   ", " ").strip() if OPENED in text else text


@lru_cache(maxsize=64)
def _names(kind: Any) -> tuple[str, ...]:
    return tuple(f.name for f in fields(kind) if f.name not in NOT_WORDS)


def _cleaned(value: Any) -> Any:
    if isinstance(value, str):
        return uncommented(value)
    if isinstance(value, tuple | list):
        items = [_cleaned(item) for item in value]
        return value if all(new is old for new, old in zip(items, value, strict=True)) else type(value)(items)
    if isinstance(value, Mapping):
        names, held = _cleaned(tuple(value)), _cleaned(tuple(value.values()))
        unchanged = names == tuple(value) and held == tuple(value.values())
        return value if unchanged else dict(zip(names, held, strict=True))
    return without_comments_anywhere(value) if is_dataclass(value) and not isinstance(value, Place | type) else value
