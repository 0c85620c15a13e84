"""Commands that are ended or run out of room, as real processes: nothing half-made stays, and the reason is told."""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from disks import are_had, on_a_disk
from folders import contents
from small_jobs import SMALL_JOB, write_job

PROGRAM = [sys.executable, "-m", "benchrecord"]
SECONDS = 60  # after which a process that was ended counts as one that was not


@pytest.fixture
def small_job(tmp_path: Path) -> Path:
    return write_job(tmp_path / "small-job", SMALL_JOB)


class Command:
    """A command that runs with a folder of its own for what is temporary, and in a session of its own."""

    def __init__(self, place: Path, cache: Path, *words: str | Path) -> None:
        self.scratch = place / "scratch"
        self.scratch.mkdir(exist_ok=True)
        env = {**os.environ, "TMPDIR": str(self.scratch), "BENCHRECORD_CACHE": str(cache)}
        self.said = place / "said"
        with self.said.open("w") as out:
            self.process = subprocess.Popen(
                [*PROGRAM, *map(str, words)], stdout=out, stderr=out, env=env, start_new_session=True, preexec_fn=_heard  # noqa: PLW1509  # one thread
            )  # fmt: skip

    def end(self, number: int, after: float) -> str:
        """Send a signal after some seconds, unless the command has ended by then; return what it printed."""
        try:
            self.process.wait(after)
        except subprocess.TimeoutExpired:
            self.process.send_signal(number)
        self.process.wait(SECONDS)
        return self.said.read_text()

    def others(self) -> list[int]:
        """Return the processes that it has started and that live still."""
        listed = subprocess.run(["ps", "-eo", "pid=,sess=,stat="], capture_output=True, text=True, check=True).stdout
        rows = (line.split() for line in listed.splitlines())
        return [int(pid) for pid, session, state in rows if int(session) == self.process.pid and not state.startswith("Z")]


def _heard() -> None:
    """Hear signals that whoever runs the tests in the background has told their children to pass over."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def gone(command: Command) -> bool:
    """Wait until all that a command has started is gone."""
    until = time.monotonic() + SECONDS
    while command.others() and time.monotonic() < until:
        time.sleep(0.1)
    return not command.others()


COMMANDS = {
    "build": lambda job, out: ("build", job, "--site-dir", out / "site"),
    "hand-over": lambda job, out: ("hand-over", job, "--to", out / "deeper"),
    "hand-over as a ZIP": lambda job, out: ("hand-over", job, "--to", out / "deeper", "--form", "zip", "--no-pdf"),
}
DONE = ("Open ", "Handed over, and read back whole: ")


@pytest.mark.slow
@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("ending", ["SIGTERM", "SIGINT", "SIGHUP"])
def test_ended_at_any_moment_it_says_so_and_leaves_nothing(
    small_job: Path, tmp_path: Path, own_cache: Path, name: str, ending: str
) -> None:
    before, dice = contents(small_job), random.Random(f"{name} {ending}")  # noqa: S311  # moments, not secrets
    (tmp_path / "out").mkdir()
    for moment in (dice.uniform(1.5, 5), dice.uniform(4, 9)):
        command = Command(tmp_path, own_cache, *COMMANDS[name](small_job, tmp_path / "out"))
        said = command.end(getattr(signal, ending), moment)
        assert gone(command)
        assert [*command.scratch.iterdir()] == []
        told = (command.process.returncode, said.strip().splitlines()[-1:])
        if command.process.returncode == 0 or any(line.startswith(DONE) for line in told[1]):
            break  # it was done before; a signal may still meet Python on its way out
        # Python ends by SIGINT where an interrupt has passed through code that was made from a text, as that of a dataclass is.
        assert told in ((1, ["Aborted!"]), (-signal.SIGINT, ["Aborted!"]), (-getattr(signal, ending), []))
        assert [*(tmp_path / "out").iterdir()] == []
    assert contents(small_job) == before


@pytest.mark.slow
def test_verifying_and_checking_end_too(tmp_path: Path, own_cache: Path) -> None:
    from benchrecord.record.bag import bag  # noqa: PLC0415
    from benchrecord.record.writing import write  # noqa: PLC0415

    write(
        bag({f"data/{n}.bin": bytes(200_000_000) for n in range(4)}, (), {}), tmp_path / "r", zipped=False, prove=lambda _: None
    )
    job = write_job(tmp_path / "job", SMALL_JOB)
    for words in (("verify", tmp_path / "r"), ("check", job)):
        command = Command(tmp_path, own_cache, *words)
        said = command.end(signal.SIGTERM, 1.0)
        assert command.process.returncode in (
            0,
            1,
            -signal.SIGTERM,
            -signal.SIGINT,
        )  # at its very end Python ends itself by the latter
        assert "Traceback" not in said
        assert gone(command)
        assert [*command.scratch.iterdir()] == []


KILLED = """
import os, signal, sys
from pathlib import Path
from benchrecord.publish import hand_over as handing
handing.verify = lambda _: os.kill(os.getpid(), signal.SIGKILL)  # all is written then, and nothing in its place
handing.hand_over(Path(sys.argv[1]), handing.Wish(Path(sys.argv[2]), zipped=sys.argv[3] == "zip", with_pdf=False))
"""


@pytest.mark.slow
@pytest.mark.parametrize("form", ["folder", "zip"])
def test_what_a_killed_hand_over_left_is_cleared_by_the_next(
    tmp_path: Path, small_job: Path, own_cache: Path, form: str
) -> None:
    """The next may be of another job, whose owner must not get what is of this one."""
    stick, scratch, other = (
        tmp_path / "stick",
        tmp_path / "scratch",
        write_job(tmp_path / "other", {"job.yml": "title: Another\n"}),
    )
    scratch.mkdir()
    env = {**os.environ, "TMPDIR": str(scratch), "BENCHRECORD_CACHE": str(own_cache)}
    killed = subprocess.run([sys.executable, "-c", KILLED, small_job, stick, form], env=env, check=False)
    assert killed.returncode == -signal.SIGKILL
    assert [p.name for p in stick.rglob("small-job-record*")] != []
    assert [p.name for p in scratch.iterdir()] != []
    done = Command(tmp_path, own_cache, "hand-over", other, "--to", stick, "--no-pdf")
    assert done.process.wait(SECONDS) == 0, done.said.read_text()
    assert [p.name for p in stick.iterdir()] == ["other-record"]
    assert [*scratch.iterdir()] == []


@pytest.mark.slow
def test_what_prints_ends_with_the_one_that_was_killed(tmp_path: Path, small_job: Path, own_cache: Path) -> None:
    command = Command(tmp_path, own_cache, "hand-over", small_job, "--to", tmp_path / "stick")
    until = time.monotonic() + SECONDS
    while (count := len(command.others())) < 3 and time.monotonic() < until:
        time.sleep(0.05)
    assert count >= 3  # itself, what prints, and Python's own tracker
    command.process.kill()
    command.process.wait()
    assert gone(command)


def run_on_a_disk(size: str, folder: Path, *words: str | Path, **env: str) -> subprocess.CompletedProcess[str]:
    folder.mkdir(exist_ok=True)
    return on_a_disk(f"size={size}", folder, *PROGRAM, *words, env=env)


@pytest.mark.slow
@pytest.mark.parametrize("size", ["60k", "1200k"])
@pytest.mark.parametrize("what", ["site", "record", "zip", "temporary", "cache"])
def test_a_full_disk_is_called_that_and_the_right_folder_is_named(
    tmp_path: Path, small_job: Path, own_cache: Path, what: str, size: str
) -> None:
    if not are_had(tmp_path):
        pytest.skip("no file system of a test's own may be made here")
    small, large, env = tmp_path / "small", tmp_path / "large", {"BENCHRECORD_CACHE": str(own_cache)}
    words: dict[str, tuple[str | Path, ...]] = {
        "site": ("build", small_job, "--site-dir", small / "site"),
        "record": ("hand-over", small_job, "--to", small / "new/stick", "--no-pdf"),
        "zip": ("hand-over", small_job, "--to", small, "--no-pdf", "--form", "zip"),
        "temporary": ("hand-over", small_job, "--to", large, "--no-pdf"),
        "cache": ("build", small_job, "--site-dir", large / "site"),
    }
    env |= {"temporary": {"TMPDIR": str(small)}, "cache": {"BENCHRECORD_CACHE": str(small)}}.get(what, {})
    done = run_on_a_disk(size, small, *words[what], **env)
    left = [line for line in done.stdout.splitlines() if line.startswith("left:") and what != "cache"]
    assert left == []
    if what == "cache":  # that costs time, and nothing else
        assert (done.returncode, (large / "site/index.html").exists()) == (0, True)
        return
    assert done.returncode == 1
    assert f"the disk is full ({small})" in done.stderr
    assert "Traceback" not in done.stderr
    assert not large.exists()


@pytest.mark.slow
def test_output_that_a_full_disk_takes_no_more_of_is_told(small_job: Path, own_cache: Path) -> None:
    env = {**os.environ, "BENCHRECORD_CACHE": str(own_cache)}
    with open("/dev/full", "w") as full:  # noqa: PTH123  # a device that is always full
        done = subprocess.run(
            [*PROGRAM, "findings", small_job], stdout=full, stderr=subprocess.PIPE, text=True, env=env, check=False
        )
    assert (done.returncode, done.stderr) == (1, "Nothing more can be written: the disk is full.\n")


@pytest.mark.slow
def test_a_file_that_is_too_large_for_a_disk_is_called_that(tmp_path: Path, small_job: Path, own_cache: Path) -> None:
    """As the ZIP of a large record on a stick that holds no file of four gigabytes; here the system allows 300 kB."""

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))

    words = [*PROGRAM, "hand-over", str(small_job), "--to", str(tmp_path / "stick"), "--no-pdf", "--form", "zip"]
    env = {**os.environ, "BENCHRECORD_CACHE": str(own_cache), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(words, capture_output=True, text=True, env=env, preexec_fn=limited, check=False)  # one thread
    assert (done.returncode, "the file is larger than this disk can hold" in done.stderr) == (1, True), done.stderr
    assert not (tmp_path / "stick").exists()
