"""The findings in plain lines, for a terminal."""

from __future__ import annotations

from benchrecord.model.findings import CheckFinding, Findings, Side


def as_text(findings: Findings) -> str:
    """Return one block a check, then parts and trims in a line each."""
    blocks = ["\n".join(_check(f)) for f in findings.checks]
    parts = f"Parts replaced: {findings.parts.replaced}"
    return "\n\n".join([*blocks, parts, f"Trims: {len(findings.trims)}"])


def _check(finding: CheckFinding) -> list[str]:
    head = f"{finding.check.id}: {finding.check.title}"
    sides = [line for name, side in (("as found", finding.found), ("as left", finding.left)) for line in _stage(name, side)]
    return [head, *sides, f"  {finding.plain}"]


def _stage(name: str, side: Side | None) -> list[str]:
    warnings = side.all_warnings if side else ()
    return [f"  {name}: {_side(side)}", *(f"    warning{f' at {item}' if item else ''}: {w.message}" for item, w in warnings)]


def _side(side: Side | None) -> str:
    if side is None:
        return "not measured"
    detail = side.worst or side.reason or side.no_verdict
    concluded = side.without_verdict if side.no_verdict else side.verdict
    return f"{concluded}{f' ({detail})' if detail else ''}"
