"""What a kind of check is. Each file of this room that has a ``KIND`` adds one."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock
from typing import Any, TypeVar

from benchrecord.bench.reasons import NotHad
from benchrecord.bench.sound import Sound
from benchrecord.figures.style import Chart
from benchrecord.model.findings import CheckFinding
from benchrecord.model.job import Check, DateCode, DecisionRule, Meter
from benchrecord.model.table import KindSchema

Sounds = Callable[[str], Sound | NotHad]  # opens a recording by its path in the job folder
T = TypeVar("T")


def no_recordings(file: str) -> Sound | NotHad:
    """Stand in where there is no folder to read recordings from."""
    return NotHad(f"{file} was not read")


class Once:
    """What several checks rest on, each thing worked out once; who asks for it meanwhile waits."""

    def __init__(self) -> None:
        self._lock, self._known = Lock(), dict[Hashable, Future[Any]]()

    def __call__(self, about: Hashable, make: Callable[[], T]) -> T:
        """Return what is known of something; the first who asks makes it."""
        with self._lock:
            first = about not in self._known
            known: Future[T] = self._known.setdefault(about, Future())
        if first:
            try:
                known.set_result(make())
            except BaseException as error:  # noqa: BLE001  # whoever waits is told of it too
                known.set_exception(error)
        return known.result()


@dataclass(frozen=True, slots=True)
class Bench:
    """What a check is worked out with: the decision rule, the meters and the job's other checks, by id.

    ``open`` gives a recording by its path in the folder; ``lossy`` are those whose coding leaves something out. ``year`` is the
    instrument's. ``once`` works out what several checks of these rest on.
    """

    rule: DecisionRule
    meters: Mapping[str, Meter] = field(default_factory=dict)
    checks: Mapping[str, Check] = field(default_factory=dict)
    year: int | None = None
    date_codes: tuple[DateCode, ...] = ()
    open: Sounds = no_recordings
    lossy: frozenset[str] = frozenset()
    once: Once = field(default_factory=Once, repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of check.

    ``schema`` says what is read, ``examine`` does the sums and concludes, ``chart`` describes the one picture (None where
    there is nothing to draw). ``title`` is what a reader calls it. ``unused_limit`` says what a limit would have to be, where nothing is
    held against the one that is given; else it is empty.
    """

    schema: KindSchema
    title: str
    examine: Callable[[Check, Bench], CheckFinding]
    chart: Callable[[CheckFinding], Chart | None]
    unused_limit: Callable[[Check], str] = lambda _: ""


def source_of(kind: Kind) -> bytes:
    """Return the code of a kind: one may come from outside the package, where no version tells of it."""
    return Path(kind.chart.__code__.co_filename).read_bytes()
