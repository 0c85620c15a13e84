"""What a kind of check is. Each file of this room that has a ``KIND`` adds one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from benchrecord.figures.style import Chart
from benchrecord.model.findings import CheckFinding
from benchrecord.model.job import Check, DecisionRule, Meter
from benchrecord.model.table import KindSchema


@dataclass(frozen=True, slots=True)
class Bench:
    """What a check is worked out with: the decision rule, the meters and the job's other checks, by id."""

    rule: DecisionRule
    meters: Mapping[str, Meter] = field(default_factory=dict)
    checks: Mapping[str, Check] = field(default_factory=dict)
    year: int | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of check.

    ``schema`` says what is read, ``examine`` does the sums and concludes, ``chart`` describes the one picture (None where
    there is nothing to draw). ``title`` is what a reader calls it.
    """

    schema: KindSchema
    title: str
    examine: Callable[[Check, Bench], CheckFinding]
    chart: Callable[[CheckFinding], Chart | None]
