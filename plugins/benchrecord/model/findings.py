"""What the sums concluded: values with their uncertainty, verdicts, and the words that go with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from benchrecord.model.job import Check, Trim


class Verdict(StrEnum):
    """The conclusion of a check, or of one item of it."""

    IN = "in"
    OUT = "out"
    TOO_CLOSE = "too-close"
    INFORMATION = "information"
    NOT_MEASURED = "not-measured"


SEVEREST_FIRST = (Verdict.OUT, Verdict.TOO_CLOSE, Verdict.IN, Verdict.INFORMATION, Verdict.NOT_MEASURED)


@dataclass(frozen=True, slots=True)
class Value:
    """One result at full precision; ``uncertainty`` is expanded (k = 2); None comes with a reason.

    ``decimals`` are those that the reading was written with: a page shows no more than they support.
    """

    value: float | int | str | bool | tuple[float, ...] | None
    unit: str = ""
    uncertainty: float | None = None
    decimals: int | None = None
    reason: str = ""


Results = Mapping[str, Value]
ALL_RESULTS = "*"
NOTHING_READ = "not measured"  # the reason of a reading that was not taken


@dataclass(frozen=True, slots=True)
class ResultWarning:
    """A reason to doubt results: a stable ``code``, a sentence, and the names of the results that it affects.

    ``affects`` is empty where the warning only informs, and holds ``ALL_RESULTS`` where it affects every result. ``of_measurement`` says that
    the fault may be the recorder's, or one of the reading: then *out* cannot be concluded of the instrument either.
    """

    code: str
    message: str
    affects: tuple[str, ...] = ()
    of_measurement: bool = False

    def touches(self, result: str) -> bool:
        """Return whether the warning affects a result."""
        return ALL_RESULTS in self.affects or result in self.affects


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a check: a rail, a resistor, a position of a control."""

    item: str
    verdict: Verdict
    results: Results = field(default_factory=dict)
    ref: str = ""
    warnings: tuple[ResultWarning, ...] = ()


@dataclass(frozen=True, slots=True)
class Side:
    """A check as found or as left. ``worst`` names the worst value in words, with its unit."""

    verdict: Verdict
    results: Results = field(default_factory=dict)
    items: tuple[Item, ...] = ()
    worst: str = ""
    reason: str = ""
    warnings: tuple[ResultWarning, ...] = ()

    @property
    def no_verdict(self) -> str:
        """Why a stage that was recorded has no verdict; empty where it has one, and where nothing was recorded."""
        if self.verdict is not Verdict.NOT_MEASURED:
            return ""
        reasons = (self.reason, *(value.reason for value in self._values if value.value is None))
        return next((reason for reason in reasons if reason not in ("", NOTHING_READ)), "")

    @property
    def without_verdict(self) -> str:
        """What a stage that was recorded came to where it has no verdict: a number that is not judged, or no result."""
        numbers = (v.value for v in self._values if isinstance(v.value, int | float) and not isinstance(v.value, bool))
        return "no result" if next(numbers, None) is None else "not judged"

    @property
    def _values(self) -> list[Value]:
        return [value for results in (self.results, *(item.results for item in self.items)) for value in results.values()]

    @property
    def all_warnings(self) -> tuple[tuple[str, ResultWarning], ...]:
        """Every warning of the stage and of its items, each once, with the names of the items that it belongs to."""
        named: dict[ResultWarning, list[str]] = {warning: [] for warning in self.warnings}
        for item in self.items:
            for warning in item.warnings:
                named.setdefault(warning, []).append(item.item)
        return tuple((", ".join(name for name in names if name), warning) for warning, names in named.items())


@dataclass(frozen=True, slots=True)
class DataTable:
    """The numbers behind a chart: rounded on the page, at full precision in the CSV beside it.

    ``refs`` names the designator of each row, where it has one.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[Value | str, ...], ...]
    refs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """One check worked out.

    ``plain`` is a sentence for a client, ``method`` one for a colleague, ``advice`` what to do at the bench. ``basis`` tells how
    the numbers and their uncertainty came about, with this check's own figures. ``alarm`` stands at the top of the whole job,
    ``caution`` beside the check. ``curve`` holds the points of a chart that are too many for a table on a page.
    """

    check: Check
    limit: str
    found: Side | None
    left: Side | None
    table: DataTable
    plain: str = ""
    method: str = ""
    advice: str = ""
    basis: str = ""
    alarm: str = ""
    caution: str = ""
    curve: DataTable | None = None

    @property
    def verdict(self) -> Verdict:
        """The verdict as things stand: as left, else as found."""
        return self.now.verdict if self.now else Verdict.NOT_MEASURED

    @property
    def warnings(self) -> tuple[tuple[str, ResultWarning], ...]:
        """Every warning with where it belongs: ``As left at 5``."""
        stages = (("As found", self.found), ("As left", self.left))
        return tuple(
            (f"{stage} at {items}" if items else stage, warning)
            for stage, side in stages
            if side
            for items, warning in side.all_warnings
        )

    @property
    def has_uncertainty(self) -> bool:
        """Whether the uncertainty of any of its results is known."""
        sides = [side for side in (self.found, self.left) if side]
        every = [results for side in sides for results in (side.results, *(item.results for item in side.items))]
        return any(value.uncertainty is not None for results in every for value in results.values())

    @property
    def now(self) -> Side | None:
        """The side as things stand."""
        return self.left or self.found

    def worst_said(self, near: str) -> str:
        """Say how the worst item stands, with words for one that is not out: ``Farthest out as left: …``; nothing where there is none."""
        if not self.now or not self.now.worst:
            return ""
        head = "Farthest out" if self.verdict is Verdict.OUT else near
        return f"{head} {'as left' if self.left else 'as found'}: {self.now.worst}."


@dataclass(frozen=True, slots=True)
class TrimFinding:
    """One trim worked out: where it stands in the order, and what its logged turns tell."""

    trim: Trim
    order: int
    results: Results
    verdict_found: Verdict
    verdict_left: Verdict


@dataclass(frozen=True, slots=True)
class PartsFinding:
    """The sums over parts.csv."""

    replaced: int
    by_reason: Mapping[str, int]
    downrated: tuple[str, ...]  # board:ref
    value_changed: tuple[str, ...]
    obsolete: tuple[str, ...]
    cost: float | None
    cost_reason: str = ""


@dataclass(frozen=True, slots=True)
class Findings:
    """All conclusions of one job."""

    job: str
    decision_rule: str
    checks: tuple[CheckFinding, ...]
    parts: PartsFinding
    trims: tuple[TrimFinding, ...]

    def check(self, check_id: str) -> CheckFinding:
        """Return the finding of one check."""
        return next(c for c in self.checks if c.check.id == check_id)


def downgrade(concluded: Verdict, warnings: Iterable[ResultWarning], result: str) -> Verdict:
    """Return *too close to call* in place of *in* where a warning affects the result that was judged.

    In place of *out* too, where the fault may be one of the measurement; any other leaves what is out as it is.
    """
    touching = [warning for warning in warnings if warning.touches(result)]
    of_measurement = any(warning.of_measurement for warning in touching)
    doubtful = (concluded is Verdict.IN and bool(touching)) or (concluded is Verdict.OUT and of_measurement)
    return Verdict.TOO_CLOSE if doubtful else concluded


def is_in_doubt(side: Side, result: str) -> bool:
    """Return whether a stage is too close to call for a warning that affects the result that was judged: nothing is to be mended yet."""
    judged = [item.warnings for item in side.items if item.verdict is side.verdict] or [side.warnings]
    return side.verdict is Verdict.TOO_CLOSE and all(any(w.touches(result) for w in (*side.warnings, *own)) for own in judged)


def worst_of(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the severest of several verdicts; *not measured* where there is none."""
    present = set(verdicts)
    return next((v for v in SEVEREST_FIRST if v in present), Verdict.NOT_MEASURED)
