"""What a page asks to be written, field by field: of the right type, of a sensible size, or refused."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

MOST_WORDS = 500
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff]+")


class NotAskedRightError(Exception):
    """A request that no page of ours makes; the message says what is wrong with it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The fields of a request."""

    fields: Mapping[str, Any]

    @classmethod
    def of(cls, body: bytes) -> Asked:
        """Read the body of a request.

        Raises
        ------
        NotAskedRightError
            Where it is no JSON object.
        """
        try:
            found = json.loads(body.decode("utf-8"), parse_constant=_no_number)
        except (ValueError, RecursionError) as error:
            raise NotAskedRightError("the body is no JSON") from error
        if not isinstance(found, dict):
            raise NotAskedRightError("the body is no JSON object")
        return cls(found)

    def text(self, name: str, *, required: bool = True) -> str:
        """Return a text on one line, without signs that nobody sees."""
        value = self.fields.get(name, "")
        if not isinstance(value, str) or len(value) > MOST_WORDS:
            raise NotAskedRightError(f"{name} is no text of at most {MOST_WORDS} signs")
        plain = CONTROL.sub(" ", value).strip()
        if required and not plain:
            raise NotAskedRightError(f"{name} is missing")
        return plain

    def whole(self, name: str) -> int:
        """Return a whole number from 0."""
        value = self.fields.get(name)
        if not isinstance(value, int) or isinstance(value, bool) or value < 0:
            raise NotAskedRightError(f"{name} is no whole number")
        return value

    def pair(self, name: str) -> tuple[float, float]:
        """Return two numbers."""
        value = self.fields.get(name)
        if not isinstance(value, list) or len(value) != 2 or not all(map(_is_number, value)):  # noqa: PLR2004  # a pair
            raise NotAskedRightError(f"{name} is no pair of numbers")
        return float(value[0]), float(value[1])

    def version(self, file: str) -> str:
        """Return the version of a file that the page was shown."""
        versions = self.fields.get("versions")
        version = versions.get(file) if isinstance(versions, dict) else None
        if not isinstance(version, str):
            raise NotAskedRightError(f"the version of {file} is missing")
        return version


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 10**9 and isfinite(value)


def _no_number(word: str) -> float:
    raise ValueError(word)
