"""All sums of one job: its checks, its parts and its trims."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from benchrecord.bench.conformity import verdict
from benchrecord.bench.parts import counts_by_reason, rating_lowered
from benchrecord.bench.trims import sensitivity_per_turn, setting_order, travel_left_turns, turns_to_target
from benchrecord.checks.kind import Bench, Kind, Sounds, no_recordings
from benchrecord.checks.meters import reading_uncertainty
from benchrecord.findings.advice import with_job_advice
from benchrecord.findings.finite import finite
from benchrecord.model.costs import cost_of_parts
from benchrecord.model.findings import (
    CheckFinding,
    DataTable,
    Findings,
    Item,
    PartsFinding,
    Results,
    ResultWarning,
    TrimFinding,
    Value,
    Verdict,
)
from benchrecord.model.job import Check, Costs, Job, PartWork, Trim
from benchrecord.model.notation import same_value
from benchrecord.model.references import part_key

UNSUMMED = Costs()
Make = Callable[[], CheckFinding]
Keep = Callable[[Check, Bench, Make], CheckFinding]


def anew(_check: Check, _bench: Bench, make: Make) -> CheckFinding:
    """Work a check out, whether or not that was done before."""
    return make()


def bench_of(job: Job, sounds: Sounds = no_recordings) -> Bench:
    """Lay out what the checks of a job are worked out with."""
    return Bench(
        rule=job.decision_rule,
        meters={m.id: m for m in job.meters},
        checks={c.id: c for c in job.checks},
        year=job.instrument.year,
        date_codes=job.date_codes,
        open=sounds,
        lossy=frozenset(r.file for r in job.recordings if r.lossy),
    )


def work_out(job: Job, kinds: Mapping[str, Kind], sounds: Sounds = no_recordings, keep: Keep = anew) -> Findings:
    """Do all sums of a job; ``sounds`` opens its recordings, ``keep`` may know what came of a check before.

    Checks of recordings take seconds, so that all cores share them; no check hears of another's result, and the order is the job's.
    """
    bench = bench_of(job, sounds)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        made = {c.id: pool.submit(_examine, c, bench, kinds, keep) for c in job.checks if c.takes}
        try:
            checks = [made[c.id].result() if c.takes else _examine(c, bench, kinds, keep) for c in job.checks]
        except BaseException:  # where this is interrupted, nothing more is begun
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    advised = tuple(with_job_advice(finding, job) for finding in checks)
    return Findings(job.id, job.decision_rule.value, advised, parts_finding(job.parts, job.costs), trim_findings(job, bench))


def _examine(check: Check, bench: Bench, kinds: Mapping[str, Kind], keep: Keep) -> CheckFinding:
    kind = kinds.get(check.kind)
    if kind:
        return keep(check, bench, lambda: finite(kind.examine(check, bench)))
    return CheckFinding(check, "", None, None, DataTable((), ()), plain="Not worked out: there is no such kind of check.")


def parts_finding(parts: tuple[PartWork, ...], costs: Costs = UNSUMMED) -> PartsFinding:
    """Count what was fitted: replaced parts by reason, lowered ratings, changed values, obsolete parts, cost.

    The cost is that of ``costs`` where it was summed before the prices were taken out.
    """
    fitted = [p for p in parts if p.status == "fitted"]
    replaced = [p for p in fitted if p.action == "replaced"]
    summed = costs.parts is not None or costs.parts_reason
    cost, reason = (costs.parts, costs.parts_reason) if summed else cost_of_parts(parts, costs.currency)
    return PartsFinding(
        replaced=int(sum(p.qty for p in replaced)),
        by_reason=counts_by_reason((p.reason or "no reason given", int(p.qty)) for p in replaced),
        downrated=_keys(p for p in replaced if rating_lowered(p.was_rating, p.now_rating)),
        value_changed=_keys(p for p in replaced if p.was and p.now and not same_value(p.was, p.now)),
        obsolete=_keys(p for p in fitted if p.obsolete),
        cost=cost,
        cost_reason=reason,
    )


def _keys(parts: Iterable[PartWork]) -> tuple[str, ...]:
    return tuple(part_key(p.board, p.ref) for p in parts)


def trim_findings(job: Job, bench: Bench) -> tuple[TrimFinding, ...]:
    """Work out each trim, in the order in which they are to be set; a reading is as uncertain as the meter of the trim's check."""
    order = setting_order({t.key: [a for a in t.after if a in {o.key for o in job.trims}] for t in job.trims})
    keys = list(order) if isinstance(order, tuple) else [t.key for t in job.trims]
    by_key = {t.key: t for t in job.trims}
    return tuple(
        TrimFinding(trim, n, trim_results(trim), *(_judge(trim, reading, bench) for reading in (trim.as_found, trim.as_left)))
        for n, trim in enumerate((by_key[k] for k in keys), 1)
    )


def trim_results(trim: Trim) -> Results:
    """Travel left, sensitivity and turns to target of one trim."""
    logged = [
        (p, r)
        for p, r in ((trim.position_found, trim.as_found), (trim.position_left, trim.as_left))
        if p is not None and r is not None
    ]
    per_turn = sensitivity_per_turn([p for p, _ in logged], [r for _, r in logged])
    sensitivity = per_turn if isinstance(per_turn, float) else None
    if sensitivity is not None and len({r for _, r in logged}) == 1:
        sensitivity = 0.0  # exactly: what a fit leaves over would ask for a million turns
    reason = "" if sensitivity is not None else getattr(per_turn, "reason", "fewer than two logged positions")
    unit = f"{trim.unit}/turn" if trim.unit else "per turn"
    return {
        "travel_left_turns": _travel(trim),
        "sensitivity_per_turn": Value(sensitivity, unit, None, (trim.decimals or 0) + 1, reason),
        "turns_to_target": _to_target(trim, sensitivity, reason),
    }


def _travel(trim: Trim) -> Value:
    position = trim.position_left if trim.position_left is not None else trim.position_found
    if trim.turns is None or position is None:
        return Value(None, "turns", reason="no number of turns or no position is given")
    ends = travel_left_turns(trim.turns, position)
    if min(ends) < 0:
        return Value(None, "turns", reason="the position lies beyond the trim's turns")
    return Value(float(min(ends)), "turns", None, 1)


def _to_target(trim: Trim, sensitivity: float | None, reason: str) -> Value:
    reading = trim.as_left if trim.as_left is not None else trim.as_found
    if sensitivity is None or trim.target is None or reading is None:
        return Value(None, "turns", reason=reason or "no target or no reading is given")
    turns = turns_to_target(reading, trim.target, sensitivity)
    number = turns + 0.0 if isinstance(turns, float) else None  # no turns are no turns to the left
    return Value(number, "turns", None, 2, getattr(turns, "reason", ""))


def _judge(trim: Trim, reading: float | None, bench: Bench) -> Verdict:
    if reading is None:
        return Verdict.NOT_MEASURED
    check = bench.checks.get(trim.check)
    u = reading_uncertainty(check, bench, reading, trim.unit) if check else None
    return Verdict(verdict(reading, u, trim.low, trim.high, rule=bench.rule.value))


def as_json(findings: Findings, *, with_cost: bool) -> dict[str, Any]:
    """Return the findings as ``findings --json`` prints them; the cost only for a reader who may see it."""
    parts = findings.parts
    cost = {"cost": parts.cost} | ({"reason": parts.cost_reason} if parts.cost is None else {}) if with_cost else {}
    return {
        "job": findings.job,
        "decision_rule": findings.decision_rule,
        "checks": [_check_json(c) for c in findings.checks],
        "parts": {
            "replaced": parts.replaced,
            "by_reason": dict(parts.by_reason),
            "downrated": list(parts.downrated),
            "value_changed": list(parts.value_changed),
            "obsolete": list(parts.obsolete),
            **cost,
        },
        "trims": [_trim_json(t) for t in findings.trims],
    }


def _check_json(finding: CheckFinding) -> dict[str, Any]:
    check = finding.check
    sides = {"as_found": finding.found, "as_left": finding.left}
    return {
        "id": check.id,
        "kind": check.kind,
        "module": check.module or None,
        "limit": finding.limit or None,
        **{
            name: {"verdict": "not-measured", "results": {}, "reason": "not measured"}
            if side is None
            else {"verdict": side.verdict.value, **_results_json(side.results, side.reason, side.warnings)}
            | ({"items": [_item_json(i) for i in side.items]} if side.items else {})
            for name, side in sides.items()
        },
    }


def _trim_json(finding: TrimFinding) -> dict[str, Any]:
    verdicts = {"as_found": finding.verdict_found.value, "as_left": finding.verdict_left.value}
    return {"trim": finding.trim.key, "order": finding.order, **verdicts, **_results_json(finding.results)}


def _item_json(item: Item) -> dict[str, Any]:
    return {"item": item.item, "verdict": item.verdict.value, **_results_json(item.results, "", item.warnings)}


def _results_json(results: Results, reason: str = "", warnings: tuple[ResultWarning, ...] = ()) -> dict[str, Any]:
    plain = {name: list(v.value) if isinstance(v.value, tuple) else v.value for name, v in results.items()}
    uncertainties = {name: v.uncertainty for name, v in results.items() if v.uncertainty is not None and v.value is not None}
    reasons = dict.fromkeys([reason, *(v.reason for v in results.values() if v.value is None)])
    said = "; ".join(r for r in reasons if r)
    return {
        "results": plain,
        **({"uncertainties": uncertainties} if uncertainties else {}),
        **({"reason": said} if said else {}),
        **({"warnings": [_warning_json(w) for w in warnings]} if warnings else {}),
    }


def _warning_json(warning: ResultWarning) -> dict[str, Any]:
    return {"code": warning.code, "message": warning.message, "affects": list(warning.affects)}
