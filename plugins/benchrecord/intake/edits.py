"""What changes to tables and to YAML share: text and bytes, line ends, and how a number is written."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

LINE_END = re.compile(r"\r\n|\r|\n")
DECIMALS = 2  # a hundredth of a millimetre, or of a percent of a picture: less than anybody places by hand


class CannotChangeError(Exception):
    """A file that cannot be changed so that all the rest of it stays; the message says what to do instead."""


@dataclass(frozen=True, slots=True)
class Text:
    """A file's text, with what its bytes had besides: a byte-order mark, and the line end that it uses."""

    text: str
    marked: bool
    line_end: str

    @classmethod
    def of(cls, data: bytes) -> Text:
        """Read the bytes of a file.

        Raises
        ------
        CannotChangeError
            Where they are no UTF-8 text.
        """
        try:
            text = data.removeprefix(codecs.BOM_UTF8).decode("utf-8")
        except UnicodeDecodeError as error:
            raise CannotChangeError("the file is no UTF-8 text: save it as UTF-8") from error
        found = LINE_END.search(text)
        return cls(text, data.startswith(codecs.BOM_UTF8), found.group() if found else "\n")

    def changed(self, start: int, end: int, words: str) -> Text:
        """Return the text with ``words`` in place of what stands from ``start`` to ``end``."""
        return Text(self.text[:start] + words + self.text[end:], self.marked, self.line_end)

    def with_lines_after(self, at: int, words: str) -> Text:
        """Return the text with ``words`` after the line that ``at`` stands in; a last line without an end stays without one."""
        if not self.text:
            return self.changed(0, 0, words + self.line_end)
        end = LINE_END.search(self.text, at)
        if end:
            return self.changed(end.end(), end.end(), words + self.line_end)
        return self.changed(len(self.text), len(self.text), self.line_end + words)

    @property
    def data(self) -> bytes:
        """The bytes of the file."""
        return codecs.BOM_UTF8 * self.marked + self.text.encode("utf-8")


def number(value: float, decimals: int = DECIMALS) -> str:
    """Write a number without zeros that say nothing: ``30``, ``30.25``."""
    text = f"{value:.{decimals}f}"
    plain = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if plain == "-0" else plain
