"""How things are worded on pages: verdicts, dates, hours, plurals."""

from __future__ import annotations

import re
from datetime import date

from benchrecord.model.findings import CheckFinding, Side, Value, Verdict
from benchrecord.model.job import Edition, Job, MeterRange
from benchrecord.model.numbers import shown
from benchrecord.model.quantity import shown_unit

VERDICTS = {
    Verdict.IN: ("in", "in limits"),
    Verdict.OUT: ("out", "out of limits"),
    Verdict.TOO_CLOSE: ("close", "too close to call"),
    Verdict.INFORMATION: ("info", "for information"),
    Verdict.NOT_MEASURED: ("none", "not measured"),
}
JUDGED = (Verdict.OUT, Verdict.TOO_CLOSE, Verdict.IN)
# Each verdict has a shape of its own, so that none is told by colour alone.
SHAPES = {"in": "●", "out": "▲", "close": "◆", "info": "○", "none": "–"}
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


def stage_words(side: Side | None) -> str:
    """Return what a stage of a check came to: its verdict, or that something was recorded which gave no result, or none to judge."""
    if side is None or not side.no_verdict:
        return verdict_words(side.verdict if side else Verdict.NOT_MEASURED)
    return side.without_verdict


def beneath(finding: CheckFinding, caption: str) -> str:
    """Return what stands beneath a chart: its caption without what is said beside it."""
    return caption.removeprefix(finding.plain).strip()


def conclusion(finding: CheckFinding, beneath: str = "") -> str:
    """Say what a check came to, and how its worst item stands where that is not said beneath its chart."""
    worst = finding.worst_said("Nearest to a limit")
    if finding.now is None or not worst or finding.now.worst in beneath or finding.verdict not in JUDGED:
        return finding.plain
    return f"{finding.plain} {worst}"


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


def playing(seconds: float) -> str:
    """Write how long a recording plays: ``4.2 s``, ``12 min 3 s``."""
    return f"{seconds:.1f} s" if seconds < 60 else f"{int(seconds // 60)} min {int(seconds % 60)} s"  # noqa: PLR2004  # a minute


def natural(text: str) -> tuple[tuple[int, str], ...]:
    """Order ``R2`` before ``R10``: of two numbers, the one of fewer digits comes first."""
    halves = (t.lstrip("0") if t.isdecimal() else t for t in re.split(r"(\d+)", text))
    return tuple((len(t) if n % 2 else 0, t) for n, t in enumerate(halves))


def range_words(reach: MeterRange) -> str:
    """Write the limits of error of one range: ``up to 20 V: 0.05 % of reading + 3 counts of 0.001 V``."""
    unit = shown_unit(reach.unit)
    counts = f"{plural(reach.counts, 'count')} of {_plain(reach.resolution)} {unit}" if reach.counts else ""
    percent = f"{_plain(reach.reading_percent)} % of reading" if reach.reading_percent else ""
    return f"up to {_plain(reach.up_to)} {unit}: {' + '.join(w for w in (percent, counts) if w) or 'none stated'}"


def _plain(number: float) -> str:
    """Write a number without a power of ten."""
    return f"{number:.9f}".rstrip("0").rstrip(".")


def cell(value: Value | str) -> str:
    """Write a cell of a table of data."""
    return value if isinstance(value, str) else shown(value)


def csv_cell(value: Value | str) -> str:
    """Write a cell at full precision for a file of data, so that no spreadsheet takes it for a formula.

    Source of the rule: OWASP, CSV Injection, with full-width signs from memory; plain numbers are let through.
    """
    if isinstance(value, Value):
        number = value.value
        return "" if number is None else repr(number) if isinstance(number, float) else str(number)
    return f"'{value}" if re.match(r"[=+\-@\t\r\n\0＝＋－＠]", value) and not _is_number(value) else value


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", text) is not None


def markdown_text(text: str) -> str:
    """Return a text so that neither Markdown nor HTML takes anything in it for markup."""
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"([\\`*_{}\[\]()#+!-])", r"\\\1", " ".join(text.split()))
