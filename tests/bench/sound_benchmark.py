"""How long recordings take to analyse, as shares of their playing time and as ratios to the bare transforms.

``python tests/bench/sound_benchmark.py [RUNS]`` prints, each the median of RUNS runs (7 unless told otherwise), and
a ratio that of two measured one after the other, since a machine's own speed may swing from one second to the next:

* each kind of sound: its analysis on one core, as a share of its playing time (goal at most 2 %), and as a ratio to reading the
  file and doing the scipy transforms that it cannot do without (goal at most 1.5 times)
* a job with 40 checks and 30 minutes of recordings: built cold (goal at most 60 s), and rebuilt, as a ratio to the rebuild of a
  job with 40 checks of tables (goal at most 1.1 times)
* an hour of stereo at 96 kHz: the most memory that its analysis holds (goal at most 300 MB)
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))  # the helpers of the tests, when run as a script

import numpy as np
import scipy
import soundfile
from sizes import TINY, sizes

from benchrecord.bench.fits import Floats
from benchrecord.checks import all_kinds, schemas
from benchrecord.findings import work_out
from benchrecord.intake import read_job
from benchrecord.intake.sound_file import opener
from folders import write
from peaks import peak_mb
from sounds import noise, seconds, write_sound

RATE = 48_000
CHECKS, MINUTES = (7, 1) if TINY else (40, 60)
ONE_CORE = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
GOALS = {"share": 2.0, "ratio": 1.5, "cold": 60.0, "warm": 1.1, "hour": 300.0}


@dataclass(frozen=True)
class Case:
    """One kind of sound: how a check of it is written, what is recorded, and the transforms that it cannot do without."""

    check: str
    record: Callable[[float], Floats]
    bare: Callable[[Floats], object]
    length_s: float = 10.0 if TINY else 60.0


def tone(length_s: float) -> Floats:
    """A ramp with harmonics, and a little noise."""
    t = seconds(length_s)
    return sum(0.4 / n * np.sin(2 * np.pi * 220 * n * t) for n in range(1, 12)) + noise(length_s, 1e-4)


def ring(length_s: float) -> Floats:
    """A product of two tones that leaks a little."""
    t = seconds(length_s)
    return 0.4 * np.sin(2 * np.pi * 440 * t) * np.sin(2 * np.pi * 1000 * t) + 0.002 * np.sin(2 * np.pi * 440 * t)


def struck(length_s: float) -> Floats:
    """A tank, struck once."""
    t = seconds(length_s)
    return 0.5 * noise(length_s, 1.0) / 4 * np.exp(-6.9 * np.clip(t - 0.2, 0, None) / 2.5) * (t > 0.2) + noise(
        length_s, 1e-4, seed=1
    )


def steps(length_s: float) -> Floats:
    """Six steps of an octave."""
    t = seconds(length_s)
    hz = 110.0 * 2 ** np.minimum(5, np.floor(6 * t / length_s))
    return 0.4 * np.sin(2 * np.pi * np.cumsum(hz) / RATE) + noise(length_s, 1e-4)


def contour(length_s: float) -> Floats:
    """A contour that repeats every two seconds, over a tone."""
    t = seconds(length_s)
    at = t % 2.0
    level = np.where(at < 0.3, at / 0.3, np.where(at < 0.5, 1.0, np.exp(-(at - 0.5) / 0.2)))
    return 0.5 * level * np.sin(2 * np.pi * 1000 * t) + noise(length_s, 1e-4)


def sweep(length_s: float) -> Floats:
    """A swept sine from 20 Hz to 20 kHz through a low-pass filter, with silence behind it."""
    t = seconds(length_s - 1)
    swept = 0.5 * scipy.signal.chirp(t, 20, t[-1], 20_000, "logarithmic", phi=-90)
    low = scipy.signal.sosfilt(scipy.signal.butter(2, 1000, fs=RATE, output="sos"), swept)
    return np.concatenate([low, np.zeros(RATE)]) + noise(length_s, 1e-5)[: len(t) + RATE]


def one_spectrum(samples: Floats) -> object:
    """One windowed transform of the whole."""
    return scipy.fft.rfft(samples * scipy.signal.get_window("hann", len(samples)))


def averaged(samples: Floats) -> object:
    """A density from overlapping pieces."""
    return scipy.signal.welch(samples, RATE, nperseg=1 << 15)


def bands(samples: Floats) -> object:
    """The octave bands from 63 Hz to 8 kHz."""
    filters = [
        scipy.signal.butter(4, (f / 2**0.5, f * 2**0.5), "band", fs=RATE, output="sos") for f in 62.5 * 2.0 ** np.arange(8)
    ]
    return [scipy.signal.sosfilt(own, samples) for own in filters]


def envelope(samples: Floats) -> object:
    """The analytic signal."""
    return np.abs(scipy.signal.hilbert(samples))


def deconvolved(samples: Floats) -> object:
    """Spectra of what came out and what went in; their correlation, which tells where the answer lies; and their quotient."""
    size = scipy.fft.next_fast_len(2 * len(samples), real=True)
    came_out, put_in = scipy.fft.rfft(samples, size), scipy.fft.rfft(samples, size)
    return scipy.fft.irfft(came_out * np.conj(put_in), size), scipy.fft.irfft(came_out / (1e-9 + put_in), size)


def frames(samples: Floats) -> object:
    """Spectra of overlapping frames, which tell the steps apart, and one of each step, which tells its frequency."""
    return scipy.signal.stft(samples, RATE, nperseg=1 << 13), [one_spectrum(step) for step in np.array_split(samples, 6)]


CASES = {
    "tone": Case("kind: spectrum, expect: ramp", tone, one_spectrum),
    "noise": Case("kind: spectrum, expect: noise", lambda s: noise(s, 0.1), averaged),
    "product": Case("kind: spectrum, expect: product, carrier_hz: 440, signal_hz: 1000", ring, one_spectrum),
    "decay": Case("kind: decay", struck, bands, 12.0),
    "steps": Case("kind: tracking, steps: [0, 1, 2, 3, 4, 5], limit: 3 cents", steps, frames),
    "contour": Case("kind: envelope", contour, envelope),
    "sweep": Case("kind: response, low_pass: 1000, sweep_hz: [20, 20000], sweep_s: 19", sweep, deconvolved, 20.0),
}


def main() -> None:
    """Measure and print."""
    (runs,) = sizes(7, tiny=(1,))
    with tempfile.TemporaryDirectory() as scratch:
        for name, case in CASES.items():
            by_kind(name, case, Path(scratch) / name, runs)
        whole_job(Path(scratch) / "job", runs)
        an_hour(Path(scratch) / "hour")


def by_kind(name: str, case: Case, folder: Path, runs: int) -> None:
    """Measure one kind of sound."""
    path = write_sound(folder / "recordings/a.wav", case.record(case.length_s))
    write(folder, {"checks.yml": f"- {{id: a, title: A, {case.check}, as_left: a.wav}}\n"})
    kinds = all_kinds()
    job, problems = read_job(folder, schemas(kinds))
    if job is None or problems:
        raise SystemExit(f"{name}: {problems}")
    known = opener(folder, job.recordings)

    def analyse() -> object:
        return work_out(job, kinds, known)  # type: ignore[arg-type]  # every file is there

    left = work_out(job, kinds, known).checks[0].left  # type: ignore[arg-type]
    if left is None or left.reason:
        raise SystemExit(f"{name}: nothing was worked out: {left and left.reason}")
    pairs = [(spent(analyse), spent(lambda: case.bare(soundfile.read(path)[0]))) for _ in range(runs + 1)][1:]  # once warm
    say(f"{name}: share of playing time", 100 * statistics.median(own for own, _ in pairs) / case.length_s, "share", " %")
    say(f"{name}: against the bare transforms", statistics.median(own / bare for own, bare in pairs), "ratio", " ×")


def spent(do: Callable[[], object]) -> float:
    """Return the seconds of a core that something takes."""
    started = time.process_time()
    do()
    return time.process_time() - started


def whole_job(folder: Path, runs: int) -> None:
    """Measure the builds of a job with 40 checks, of 30 minutes of recordings and of tables."""
    lines = []
    for n in range(CHECKS):
        case = [*CASES.values()][n % len(CASES)]
        length = 45.0 if case.length_s > 45 else case.length_s  # so that all come to half an hour
        write_sound(folder / f"heard/recordings/{n}.wav", case.record(length)[: round(45 * RATE)])
        check = case.check.replace("sweep_s: 19", f"sweep_s: {length - 1:g}")
        lines.append(f"- {{id: c{n}, title: Check {n}, {check}, as_left: {n}.wav}}\n")
    heard = write(folder / "heard", {"checks.yml": "".join(lines)})
    hz = np.geomspace(20, 20_000, 10)  # so many rows make pages as long as those of what is heard (0.7 MB)
    rows = "".join(f"{f:.6g},{-10 * np.log10(1 + (f / 1000) ** 2):.2f}\n" for f in hz)
    listed = "".join(
        f"- {{id: c{n}, title: Check {n}, kind: response, low_pass: 1000, file: {n}.csv}}\n" for n in range(CHECKS)
    )
    tables = {f"measurements/{n}.csv": f"hz,as_left_db\n{rows}" for n in range(CHECKS)}
    read = write(folder / "read", {"checks.yml": listed, **tables})
    say("40 checks of recordings, cold", build(heard, folder), "cold", " s")
    build(read, folder)
    warm = [(build(heard, folder), build(read, folder)) for _ in range(runs)]
    say("rebuilt, against 40 checks of tables", statistics.median(a / b for a, b in warm), "warm", " ×")


def build(folder: Path, scratch: Path) -> float:
    """Build a job's site in a process of its own; return the seconds."""
    env = {**os.environ, "BENCHRECORD_CACHE": str(scratch / f"cache-{folder.name}")}
    words = [sys.executable, "-m", "benchrecord", "build", str(folder), "--site-dir", str(scratch / f"site-{folder.name}")]
    started = time.perf_counter()
    subprocess.run(words, env=env, check=True, capture_output=True)
    return time.perf_counter() - started


def an_hour(folder: Path) -> None:
    """Measure the memory that an hour of stereo takes, as a tone, as noise, and in steps, two at a time."""
    folder.mkdir()
    (folder / "recordings").mkdir()
    with soundfile.SoundFile(folder / "recordings/a.wav", "w", 2 * RATE, 2, "PCM_16") as file:
        minute = np.column_stack([noise(60, 0.05, rate=2 * RATE), 0.4 * np.sin(2 * np.pi * 220 * seconds(60, 2 * RATE))])
        for _ in range(MINUTES):
            file.write(minute)
    checks = [case.check for case in CASES.values()]
    lines = [f"- {{id: c{n}, title: C, {check}, as_left: a.wav}}\n" for n, check in enumerate(checks)]
    write(folder, {"checks.yml": "".join(lines)})
    env = {**os.environ, "BENCHRECORD_CACHE": str(folder.parent / "cache-of-an-hour")}
    words = [sys.executable, "-m", "benchrecord", "findings", str(folder)]
    say("an hour of stereo at 96 kHz", peak_mb(words, env), "hour", " MB")


def say(what: str, figure: float, goal: str, unit: str) -> None:
    """Print a figure with its goal."""
    print(
        f"{what}: {figure:.2f}{unit}, goal at most {GOALS[goal]:g}: {'reached' if figure <= GOALS[goal] else 'MISSED'}",
        flush=True,
    )


if __name__ == "__main__":
    if any(os.environ.get(name) != "1" for name in ONE_CORE):  # before numpy is loaded: start again on one core
        os.execve(sys.executable, [sys.executable, *sys.argv], {**os.environ, **ONE_CORE})  # noqa: S606  # this very program
    main()
