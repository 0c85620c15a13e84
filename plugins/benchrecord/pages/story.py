"""What stands out of a job: its story in a few sentences, what is in limits, what is still not right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from benchrecord.model.findings import CheckFinding, Value, Verdict
from benchrecord.model.job import Fault
from benchrecord.model.numbers import shown
from benchrecord.pages import addresses, words
from benchrecord.pages.view import View


def story(view: View) -> str:
    """Tell in a few sentences what was wrong, what was done and how it measures."""
    job, sums = view.job, view.findings.parts
    done = [words.plural(sums.replaced, "part was replaced", "parts were replaced")] if sums.replaced else []
    done += [words.plural(len(job.trims), "trim was set", "trims were set")] if job.trims else []
    said = [f"{words.plural(len(job.faults), 'fault').capitalize()} found." if job.faults else ""]
    said += [f"{' and '.join(done)[:1].upper()}{' and '.join(done)[1:]}." if done else ""]
    said += [in_limits(view)]
    return " ".join(s for s in said if s)


def in_limits(view: View) -> str:
    """Say how many checks are in limits, as found and as left."""
    judged = (Verdict.IN, Verdict.OUT, Verdict.TOO_CLOSE)
    left = {f.check.id: f.left.verdict for f in view.findings.checks if f.left and f.left.verdict in judged}
    found = {f.check.id: f.found.verdict for f in view.findings.checks if f.found and f.found.verdict in judged}
    if left:
        now = f"{_in(left.values())} of {words.plural(len(left), 'check is', 'checks are')} in limits as left"
        both = left.keys() & found.keys()
        if not both:
            return f"{now}; none of them was measured as found."
        if len(both) == len(left):
            return f"{now}; as found it was {_in(found[i] for i in both)} of {len(both)}."
        in_now, in_before = _in(left[i] for i in both), _in(found[i] for i in both)
        are, were = "is" if in_now == 1 else "are", "was" if in_before == 1 else "were"
        return f"{now}; of the {len(both)} measured both times, {in_now} {are}, and {in_before} {were} as found."
    was = words.plural(len(found), "check was", "checks were")
    return f"{_in(found.values())} of {was} in limits as found; the work goes on." if found else ""


def _in(verdicts: Iterable[Verdict]) -> int:
    return sum(verdict is Verdict.IN for verdict in verdicts)


def alarms(view: View) -> list[CheckFinding]:
    """Return the checks whose result must stand at the top of the job."""
    return [f for f in view.findings.checks if f.alarm]


def matters(view: View) -> list[dict[str, str]]:
    """Return what is still not right: checks, faults without remedy, parts not fitted."""
    said = [m for f in view.findings.checks if (m := check_matter(view, f))]
    said += [_fault_matter(view, n, f) for n, f in enumerate(view.job.faults, 1) if not f.remedy]
    said += [
        {
            "what": f"{p.status.capitalize()}:",
            "words": f"{p.ref} {p.now or p.was}".strip(),
            "href": addresses.to_page(view.job.id, "parts", f"row-{addresses.slug(view.key(p.board, p.ref))}"),
        }
        for p in view.job.parts
        if p.status in ("needed", "ordered")
    ]
    return said


def check_matter(view: View, finding: CheckFinding) -> dict[str, str]:
    """Return what is to be watched of a check as left: out of limits, too close to call, or recorded and without a verdict."""
    side = finding.left
    if side is None or not (side.no_verdict or side.verdict in (Verdict.OUT, Verdict.TOO_CLOSE)):
        return {}
    detail = side.no_verdict or side.worst
    detail = f" ({detail})" if detail else ""
    href = addresses.check(view.job, finding.check.id)
    return {
        "what": f"{words.stage_words(side).capitalize()}:",
        "words": f"{finding.check.title}{detail}",
        "href": href,
    }


def _fault_matter(view: View, number: int, fault: Fault) -> dict[str, str]:
    return {
        "what": "No remedy yet:",
        "words": fault.symptom,
        "href": addresses.to_page(view.job.id, "index", f"fault-{number}"),
    }


def example(view: View) -> dict[str, object]:
    """Return the reading of this job that shows best how a verdict is reached: the one nearest to its limit that is known well."""
    known = [
        (f, item)
        for f in view.findings.checks
        for item in (f.left.items if f.left else f.found.items if f.found else ())
        if {"value", "margin"} <= item.results.keys() and isinstance(item.results["margin"].value, float)
    ]
    sure = [(f, i) for f, i in known if i.results.get("expanded_uncertainty", Value(None)).value]
    if not known:
        return {}
    finding, item = (sure or known)[0]
    room, u = item.results["margin"], item.results.get("expanded_uncertainty", Value(None))
    distance = replace(room, value=abs(room.value)) if isinstance(room.value, float) else room
    return {
        "check": finding.check,
        "item": item.item,
        "value": shown(item.results["value"]),
        "room": shown(distance),
        "u": shown(replace(u, uncertainty=u.value if isinstance(u.value, float) else None)) if u.value else "",
        "verdict": item.verdict,
    }
