"""Advice that knows the job: a trim at the end of its travel cannot be turned further, and an open fault is named."""

from __future__ import annotations

import math
from dataclasses import replace

from benchrecord.model.findings import CheckFinding
from benchrecord.model.job import Check, Fault, Job, Trim


def with_job_advice(finding: CheckFinding, job: Job) -> CheckFinding:
    """Say with the advice which trims have no travel left; say that alone where none has, or where the fault is known and open."""
    trims = [trim for trim in job.trims if _belongs(trim, finding.check, job)]
    used_up = [trim for trim in trims if _at_end(trim)]
    known = [fault for fault in job.faults if not fault.remedy and any(_same_part(fault, trim) for trim in trims)]
    if not finding.advice or not (used_up or known):
        return finding
    lines = [f"{_name(trim)} is at the end of its travel." for trim in used_up]
    lines += [f"Known and open: {fault.symptom}." for fault in known]
    obsolete = bool(known) or len(used_up) == len(trims)
    return replace(finding, advice=" ".join([*([] if obsolete else [finding.advice]), *lines]))


def _belongs(trim: Trim, check: Check, job: Job) -> bool:
    """Return whether a trim is set by a check, or by another check of the same kind and module."""
    if not trim.check:
        return False
    set_by = next((c for c in job.checks if c.id == trim.check), None)
    alike = set_by is not None and bool(check.module) and (set_by.kind, set_by.module) == (check.kind, check.module)
    return trim.check == check.id or alike


def _at_end(trim: Trim) -> bool:
    if trim.turns is None or trim.position_left is None:
        return False
    return any(math.isclose(trim.position_left, end, abs_tol=1e-9) for end in (0.0, trim.turns))


def _same_part(fault: Fault, trim: Trim) -> bool:
    return bool(fault.ref) and (fault.board, fault.ref) == (trim.board, trim.ref)


def _name(trim: Trim) -> str:
    return f"{trim.key} ({trim.function})" if trim.function else trim.key
