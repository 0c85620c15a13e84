"""The folder of a site: always a whole site, the former or the new one; one build at a time; nobody's files taken away."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from benchrecord import disk
from benchrecord.publish import site_folder, site_lock
from benchrecord.publish.site_folder import begin, exchange
from benchrecord.publish.site_lock import Refused
from benchrecord.publish.site_record import RECORD, foreign
from disks import on_a_disk
from folders import contents, write
from systems import Windows

PAGES = 40
# Puts a site of many pages in place, again and again, each time another one; every page of a site says the same.
AGAIN_AND_AGAIN = f"""
import itertools, sys
from contextlib import closing
from pathlib import Path
from benchrecord.publish.site_folder import begin
for turn in itertools.count():
    with closing(begin(Path(sys.argv[1]))) as site:
        for n in range({PAGES}):
            (site.made / f"{{n}}.html").write_text(str(turn))
        site.put_in_place()
"""


def make(wanted: Path, files: dict[str, str]) -> None:
    with closing(begin(wanted)) as site:
        for name, text in files.items():
            (site.made / name).parent.mkdir(parents=True, exist_ok=True)
            (site.made / name).write_text(text, "utf-8")
        site.put_in_place()


def pages(site: Path) -> dict[str, bytes]:
    return {name: content for name, content in contents(site).items() if name != RECORD}


def beside(wanted: Path) -> list[str]:
    return sorted(p.name for p in wanted.parent.iterdir() if p != wanted)


@pytest.fixture(params=["one step", "two renames", "Windows"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Exchange as systems do that can do it in one step, and as others do."""
    if request.param == "Windows":
        request.getfixturevalue("windows")
    if request.param == "two renames":
        monkeypatch.setattr(site_folder, "exchange", lambda *_: False)
    return str(request.param)


@pytest.mark.usefixtures("way")
def test_a_new_site_takes_the_place_of_the_former_one_and_nothing_else_is_left(tmp_path: Path) -> None:
    wanted = tmp_path / "deep/site"
    make(wanted, {"index.html": "one", "a/b.html": "x"})
    make(wanted, {"index.html": "two"})
    assert pages(wanted) == {"index.html": b"two"}
    assert beside(wanted) == []
    assert b"\r" not in (wanted / RECORD).read_bytes()


@pytest.mark.usefixtures("way")
def test_a_site_that_is_not_finished_leaves_the_former_one_as_it_was(tmp_path: Path) -> None:
    wanted = tmp_path / "deep/site"
    make(wanted, {"index.html": "one"})
    before = contents(wanted)
    with closing(begin(wanted)) as site:
        (site.made / "index.html").write_text("half")
    assert contents(wanted) == before
    assert beside(wanted) == []


def test_on_linux_two_folders_change_places_in_one_step(tmp_path: Path) -> None:
    write(tmp_path / "a", {"job.yml": "a"})
    write(tmp_path / "b", {"job.yml": "b"})
    if not exchange(tmp_path / "a", tmp_path / "b"):
        pytest.skip("this system cannot")
    assert (contents(tmp_path / "a"), contents(tmp_path / "b")) == ({"job.yml": b"b"}, {"job.yml": b"a"})


def test_what_the_system_refuses_is_no_lack_of_such_a_step(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    with pytest.raises(FileNotFoundError):
        exchange(tmp_path / "a", tmp_path / "not-there")


def test_an_interruption_between_two_renames_puts_the_former_site_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    wanted = tmp_path / "site"
    make(wanted, {"index.html": "one"})
    rename = Path.rename

    def interrupted(path: Path, target: Path) -> Path:
        if path.name == "new":
            raise KeyboardInterrupt
        return rename(path, target)

    monkeypatch.setattr(site_folder, "exchange", lambda *_: False)
    monkeypatch.setattr(Path, "rename", interrupted)
    with pytest.raises(KeyboardInterrupt):
        make(wanted, {"index.html": "two"})
    assert pages(wanted) == {"index.html": b"one"}


def test_what_a_build_left_that_was_killed_between_two_renames_is_put_right_by_the_next(tmp_path: Path) -> None:
    wanted, workshop = tmp_path / "site", tmp_path / ".site.benchrecord-build"
    make(wanted, {"index.html": "one"})
    workshop.mkdir()
    wanted.rename(workshop / "former")
    write(workshop / "new", {"index.html": "half"})
    with closing(begin(wanted)):
        assert pages(wanted) == {"index.html": b"one"}
    assert beside(wanted) == []


def test_what_a_killed_build_left_is_cleared_away_by_the_next(tmp_path: Path) -> None:
    wanted = tmp_path / "site"
    write(tmp_path / ".site.benchrecord-build/new", {"index.html": "half"})
    (tmp_path / ".site.benchrecord-lock").write_text("4194304\n")
    make(wanted, {"index.html": "one"})
    assert pages(wanted) == {"index.html": b"one"}
    assert beside(wanted) == []


def test_something_else_in_the_place_of_our_own_is_not_taken_away(tmp_path: Path) -> None:
    write(tmp_path / ".site.benchrecord-build", {"letter.txt": "dear"})
    with pytest.raises(Refused, match="not empty"):
        begin(tmp_path / "site")
    assert contents(tmp_path / ".site.benchrecord-build")["letter.txt"] == b"dear"


# --- By the rules of Windows, where another program has something open ---


def changed(site_dir: Path, windows: Windows, **held: int) -> Refused | None:
    """Exchange a site for another one while a program holds what is named, so many times; return what refused it."""
    make(site_dir, {"index.html": "one"})
    paths = {"site": site_dir, "made": workshop(site_dir) / "new", "former": workshop(site_dir) / "former"}
    try:
        with closing(begin(site_dir)) as site:
            (site.made / "index.html").write_text("two")
            for name, times in held.items():
                windows.hold(paths[name], times)
            site.put_in_place()
    except Refused as refused:
        return refused
    return None


def workshop(site_dir: Path) -> Path:
    return site_dir.with_name(f".{site_dir.name}.benchrecord-build")


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Write down the pauses between attempts instead of making them."""
    made: list[float] = []
    monkeypatch.setattr(disk.time, "sleep", made.append)
    return made


@pytest.mark.parametrize("held", [{"site": 1}, {"made": 3}, {"site": 2, "made": 5}, {"former": 4}])
def test_what_another_program_looks_at_for_a_moment_is_exchanged_after_it(
    tmp_path: Path, windows: Windows, pauses: list[float], held: dict[str, int]
) -> None:
    site_dir = tmp_path / "deep/site"
    assert changed(site_dir, windows, **held) is None
    assert pages(site_dir) == {"index.html": b"two"}
    assert beside(site_dir) == []
    assert len(pauses) >= sum(held.values())


@pytest.mark.parametrize("held", ["site", "made"])
def test_what_another_program_does_not_let_go_of_refuses_the_build_and_the_former_site_stays(
    tmp_path: Path, windows: Windows, pauses: list[float], held: str
) -> None:
    site_dir = tmp_path / "deep/site"
    refused = changed(site_dir, windows, **{held: 1000})
    assert "another program has it open" in str(refused)
    assert str(refused).endswith("The former one is as it was.")
    assert pages(site_dir) == {"index.html": b"one"}
    assert 2 < sum(pauses) < 20


def test_a_former_site_that_cannot_be_put_back_is_kept_and_put_back_by_the_next_build(
    tmp_path: Path, windows: Windows, pauses: list[float]
) -> None:
    site_dir = tmp_path / "deep/site"
    refused = changed(site_dir, windows, made=1000, former=1000)
    former = workshop(site_dir) / "former"
    assert str(former) in str(refused)
    assert str(refused).endswith("The next build puts it back.")
    assert pages(former) == {"index.html": b"one"}
    windows.held.clear()
    make(site_dir, {"index.html": "three"})
    assert pages(site_dir) == {"index.html": b"three"}
    assert beside(site_dir) == []
    assert pauses


def test_a_lock_on_windows_is_read_past_its_first_byte_and_removed_when_closed(tmp_path: Path, windows: Windows) -> None:
    held = site_lock.take(tmp_path / "lock", "this site")
    assert (tmp_path / "lock").read_bytes()[1:].split() == [str(os.getpid()).encode()]
    with pytest.raises(Refused, match=f"by process {os.getpid()}"):
        site_lock.take(tmp_path / "lock", "this site")
    held.release()
    assert not (tmp_path / "lock").exists()
    assert windows.refused == [str(tmp_path / "lock")]


# --- What no build wrote ---


@pytest.mark.parametrize("name", ["letter.txt", "assets/letter.txt", ".hidden", "a\\b\nc.txt"])
def test_a_file_that_no_build_wrote_refuses_the_next_and_nothing_is_touched(tmp_path: Path, name: str) -> None:
    wanted = tmp_path / "site"
    make(wanted, {"index.html": "one", "assets/x.css": "x"})
    (wanted / name).write_text("dear")
    before = contents(wanted)
    with pytest.raises(Refused, match="no build wrote") as refused:
        begin(wanted)
    assert name in str(refused.value)
    assert contents(wanted) == before
    assert beside(wanted) == []


def test_a_page_that_somebody_changed_is_not_written_over(tmp_path: Path) -> None:
    wanted = tmp_path / "site"
    make(wanted, {"index.html": "one", "b.html": "x"})
    later = (wanted / RECORD).stat().st_mtime_ns + 10**9
    (wanted / "index.html").write_text("mine")
    os.utime(wanted / "index.html", ns=(later, later))
    with pytest.raises(Refused, match=r"changed since: index\.html\. Nothing"):
        begin(wanted)


def test_a_file_put_in_while_a_build_runs_is_kept_too(tmp_path: Path) -> None:
    wanted = tmp_path / "site"
    make(wanted, {"index.html": "one"})
    with closing(begin(wanted)) as site:
        (wanted / "letter.txt").write_text("dear")
        with pytest.raises(Refused, match=r"letter\.txt"):
            site.put_in_place()
    assert pages(wanted) == {"index.html": b"one", "letter.txt": b"dear"}


def test_a_link_is_nothing_that_a_build_writes_and_is_not_followed(tmp_path: Path) -> None:
    wanted, elsewhere = tmp_path / "site", write(tmp_path / "elsewhere", {"precious.txt": "x"})
    make(wanted, {"index.html": "one"})
    (wanted / "link").symlink_to(elsewhere)
    assert list(foreign(wanted)) == ["link"]
    with pytest.raises(Refused, match="link"):
        begin(wanted)


def test_a_site_that_was_copied_is_still_known(tmp_path: Path) -> None:
    make(tmp_path / "site", {"index.html": "one", "strange \u2028 \\ name\n.html": "x"})
    shutil.copytree(tmp_path / "site", tmp_path / "copy", copy_function=shutil.copyfile)
    assert list(foreign(tmp_path / "copy")) == []
    make(tmp_path / "copy", {"index.html": "two"})
    assert pages(tmp_path / "copy") == {"index.html": b"two"}


def test_the_record_is_what_sha256sum_reads(tmp_path: Path) -> None:
    make(tmp_path / "site", {"index.html": "one", "a/two words.html": "x", "back\\slash": "y"})
    subprocess.run(["sha256sum", "--check", "--strict", RECORD], cwd=tmp_path / "site", check=True, capture_output=True)


def test_the_same_site_has_the_same_record(tmp_path: Path) -> None:
    for name in ("a", "b"):
        make(tmp_path / name, {"z.html": "1", "index.html": "one", "a/b.html": "2"})
    assert contents(tmp_path / "a") == contents(tmp_path / "b")


@pytest.mark.parametrize("wanted", ["/", "a-file"])
def test_what_is_no_folder_is_refused(tmp_path: Path, wanted: str) -> None:
    (tmp_path / "a-file").write_text("x")
    with pytest.raises(Refused, match="no folder for a site"):
        begin(tmp_path / wanted)


# --- Two builds at once ---


def test_two_builds_at_once_are_told_of_each_other(tmp_path: Path) -> None:
    wanted = tmp_path / "site"
    holder = subprocess.Popen(
        [sys.executable, "-c", AGAIN_AND_AGAIN.replace("site.put_in_place()", "input()"), wanted], stdin=subprocess.PIPE
    )
    try:
        lock = tmp_path / ".site.benchrecord-lock"
        while not (lock.exists() and lock.read_text().strip() and (tmp_path / ".site.benchrecord-build/new/0.html").exists()):
            time.sleep(0.02)
        with pytest.raises(Refused, match=f"is being built by process {holder.pid}: wait"):
            begin(wanted)
    finally:
        holder.kill()
        holder.wait()
    make(wanted, {"index.html": "one"})  # the dead let go of it
    assert pages(wanted) == {"index.html": b"one"}
    assert beside(wanted) == []


def test_a_lock_that_was_let_go_while_it_was_awaited_is_asked_for_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, lock, seen = tmp_path / ".site.benchrecord-lock", site_lock.lock_descriptor, []

    def late(handle: int, *, blocking: bool) -> bool:
        if not seen:
            path.unlink()  # its holder ends between our opening and our locking
        seen.append(handle)
        return lock(handle, blocking=blocking)

    monkeypatch.setattr(site_lock, "lock_descriptor", late)
    with closing(begin(tmp_path / "site")):
        assert path.read_text().split() == [str(os.getpid())]
    assert len(seen) == 2


# --- The moment of a kill ---


def is_whole(site: Path) -> bool:
    return len(pages(site)) == PAGES and len(set(pages(site).values())) == 1


@pytest.mark.parametrize("seed", range(3))
def test_killed_at_any_moment_there_is_a_whole_site(tmp_path: Path, seed: int) -> None:
    wanted, dice = tmp_path / "site", random.Random(seed)  # noqa: S311  # moments, not secrets
    make(wanted, {f"{n}.html": "first" for n in range(PAGES)})
    for _ in range(4):
        running = subprocess.Popen([sys.executable, "-c", AGAIN_AND_AGAIN, wanted])
        until = time.monotonic() + dice.uniform(0.1, 0.6)
        while time.monotonic() < until:
            assert (wanted / "0.html").read_bytes()  # at no moment is there no site
        running.kill()
        running.wait()
        assert is_whole(wanted)
    make(wanted, {"index.html": "last"})
    assert beside(wanted) == []


# --- No room, no permission ---


def in_a_room_of(size: str, folder: Path, code: str) -> subprocess.CompletedProcess[str]:
    """Run Python code with a file system of a size at ``folder``, which nobody else sees."""
    return on_a_disk(f"size={size}", folder, sys.executable, "-c", code, folder / "site")


FULL = """
import sys
from contextlib import closing
from pathlib import Path
from benchrecord.publish.site_folder import begin, worded
from benchrecord.publish.site_lock import Refused
wanted = Path(sys.argv[1])
def make(length):
    with worded(), closing(begin(wanted)) as site:
        (site.made / "index.html").write_text("x" * length)
        site.put_in_place()
make(1000)
try:
    make(3_000_000)
except Refused as refused:
    print(refused)
print(len((wanted / "index.html").read_text()), sorted(p.name for p in wanted.parent.iterdir()))
"""


def test_a_full_disk_is_told_in_a_sentence_and_the_former_site_stays(tmp_path: Path) -> None:
    if in_a_room_of("1m", tmp_path, "").returncode:
        pytest.skip("no file system of a test's own may be made here")
    said = in_a_room_of("2m", tmp_path, FULL).stdout.splitlines()
    assert said[0].startswith("The site was not built: the disk is full")
    assert said[0].endswith("The former one is as it was.")
    assert said[1] == "1000 ['site']"


NO_PERMISSION = """
import sys
from pathlib import Path
from benchrecord.publish.site_folder import begin
from benchrecord.publish.site_lock import Refused
try:
    begin(Path(sys.argv[1]))
except Refused as refused:
    print(refused)
"""


def test_a_folder_that_may_not_be_written_is_told_in_a_sentence(tmp_path: Path) -> None:
    room = in_a_room_of("1m,ro", tmp_path, NO_PERMISSION)
    if room.returncode:
        pytest.skip("no file system of a test's own may be made here")
    assert room.stdout.startswith("The site was not built: the disk is read-only")
