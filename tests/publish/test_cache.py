"""Pictures are made once; an entry that is not whole, or was not made for its key, is made anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchrecord.publish import cache as caching
from benchrecord.publish.cache import Cache


class Maker:
    """Counts how often something is made."""

    def __init__(self, content: bytes = b"picture") -> None:
        self.content, self.times = content, 0

    def __call__(self) -> bytes:
        self.times += 1
        return self.content


def entries(folder: Path) -> list[Path]:
    return [p for p in folder.rglob("*") if p.is_file()]


def test_a_second_time_nothing_is_made(tmp_path: Path) -> None:
    cache, make = Cache(tmp_path), Maker()
    assert [cache.made("photo", b"x", make=make) for _ in range(2)] == [b"picture", b"picture"]
    assert make.times == 1


def test_another_key_is_another_picture(tmp_path: Path) -> None:
    cache, make = Cache(tmp_path), Maker()
    for key in (("a", "bc"), ("ab", "c"), ("abc",)):
        cache.made(*key, make=make)
    assert make.times == 3


@pytest.mark.parametrize("damage", [b"", b"short", b"\0" * 200])
def test_a_damaged_entry_is_made_anew(tmp_path: Path, damage: bytes) -> None:
    cache, make = Cache(tmp_path), Maker()
    cache.made("photo", make=make)
    (entry,) = entries(tmp_path)
    entry.write_bytes(damage)
    assert cache.made("photo", make=make) == b"picture"
    assert make.times == 2
    assert cache.made("photo", make=make) == b"picture"
    assert make.times == 2


def test_an_entry_of_another_key_put_in_its_place_is_not_trusted(tmp_path: Path) -> None:
    cache = Cache(tmp_path)
    cache.made("one", make=Maker(b"one"))
    (first,) = entries(tmp_path)
    cache.made("two", make=Maker(b"two"))
    (second,) = [p for p in entries(tmp_path) if p != first]
    second.write_bytes(first.read_bytes())
    assert cache.made("two", make=Maker(b"two")) == b"two"


def test_other_code_makes_other_pictures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache, make = Cache(tmp_path), Maker()
    cache.made("photo", make=make)
    monkeypatch.setattr(caching, "code_version", lambda: "another")
    cache.made("photo", make=make)
    assert make.times == 2


def test_a_cache_that_cannot_be_written_only_costs_time(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    assert Cache(blocked).made("photo", make=Maker()) == b"picture"
