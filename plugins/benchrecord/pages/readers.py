"""The table of who sees which field, as a page shows it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

READERS_HERE = "<!-- what each reader sees -->"


@dataclass(frozen=True, slots=True)
class Seen:
    """Some fields of one part of a job that are treated alike: for each reader in order whether they see them, and what is done else."""

    part: str
    fields: tuple[str, ...]
    by: tuple[bool, ...]
    otherwise: str


def readers_table(rows: Iterable[Seen], readers: Sequence[str]) -> str:
    """Return the table as HTML."""
    heads = "".join(f'<th scope="col">{escape(h)}</th>' for h in ("What", *readers, "Otherwise"))
    return f'<table class="br-table br-stack"><thead><tr>{heads}</tr></thead><tbody>\n{"".join(_row(r, readers) for r in rows)}</tbody></table>'


def _row(row: Seen, readers: Sequence[str]) -> str:
    fields = ", ".join(row.fields)
    cells = "".join(
        f'<td data-label="{escape(reader)}">{"yes" if sees else "no"}</td>'
        for reader, sees in zip(readers, row.by, strict=True)
    )
    return f'<tr><th scope="row">{escape(row.part)}: {escape(fields)}</th>{cells}<td data-label="Otherwise">{escape(row.otherwise)}</td></tr>\n'
