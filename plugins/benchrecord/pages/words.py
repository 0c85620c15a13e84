"""How things are worded on pages: verdicts, dates, hours, plurals."""

from __future__ import annotations

import re
from datetime import date

from benchrecord.model.findings import Value, Verdict
from benchrecord.model.job import Edition, Job
from benchrecord.model.numbers import shown

VERDICTS = {
    Verdict.IN: ("in", "in limits"),
    Verdict.OUT: ("out", "out of limits"),
    Verdict.TOO_CLOSE: ("close", "too close to call"),
    Verdict.INFORMATION: ("info", "for information"),
    Verdict.NOT_MEASURED: ("none", "not measured"),
}
# Each verdict has a shape of its own, so that none is told by colour alone.
SHAPES = {"in": "●", "out": "▲", "close": "◆", "info": "○", "none": "–"}
RESULTS = {
    "value": "Value", "deviation": "Deviation from nominal", "margin": "Distance to the nearer limit",
    "volts_per_octave": "Scale", "scale_error_percent": "Scale error", "worst_cents": "Worst error", "rms_cents": "Error, rms",
    "curvature_cents_per_octave2": "Curvature", "expanded_uncertainty": "Uncertainty (k = 2)",
    "spread_cents": "Against its twin, best to worst", "hertz_per_volt": "Scale", "worst_percent": "Worst error",
}  # fmt: skip
STAGES = {"before": "as found", "during": "at work", "after": "as left"}
READERS = {Edition.PORTFOLIO: "everyone", Edition.OWNER: "the owner", Edition.ARCHIVE: "the archive"}


def instrument_name(job: Job) -> str:
    """Return what an instrument is called: maker and model, else the job's title."""
    return " ".join(x for x in (job.instrument.maker, job.instrument.model) if x) or job.title


def verdict_class(verdict: Verdict) -> str:
    """Return the short name that a verdict's look goes by."""
    return VERDICTS[verdict][0]


def verdict_words(verdict: Verdict) -> str:
    """Return a verdict in words."""
    return VERDICTS[verdict][1]


def day(when: date | str | None) -> str:
    """Write a date as ``3 February 2026``; a month alone as ``April 2031``."""
    if not when:
        return ""
    if isinstance(when, str):
        match = re.fullmatch(r"(\d{4})-(\d{2})", when)
        return f"{date(int(match[1]), int(match[2]), 1):%B %Y}" if match else when
    return f"{when.day} {when:%B %Y}"


def plural(count: float, one: str, many: str = "") -> str:
    """Write ``1 part``, ``2 parts``."""
    return f"{count:g} {one if count == 1 else many or one + 's'}"


def cell(value: Value | str) -> str:
    """Write a cell of a table of data."""
    return value if isinstance(value, str) else shown(value)


def csv_cell(value: Value | str) -> str:
    """Write a cell at full precision for a file of data, so that no spreadsheet takes it for a formula.

    Source of the rule: OWASP, CSV Injection; plain numbers are let through.
    """
    if isinstance(value, Value):
        number = value.value
        return "" if number is None else repr(number) if isinstance(number, float) else str(number)
    return f"'{value}" if re.match(r"[=+\-@\t\r\n\0]", value) and not _is_number(value) else value


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", text) is not None


def markdown_text(text: str) -> str:
    """Return a text so that neither Markdown nor HTML takes anything in it for markup."""
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"([\\`*_{}\[\]()#+!-])", r"\\\1", " ".join(text.split()))
