"""The recordings of the demo are those that the model makes."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import soundfile

from demo_sounds.takes import FULL_SCALE_V, RATE, Recorded, every
from demo_sounds.write import FOLDER, digits

MEGABYTE = 1_000_000


@cache
def made() -> dict[str, Recorded]:
    return {one.file: one for one in every()}


def test_the_folder_holds_just_what_the_script_writes() -> None:
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(made())


@pytest.mark.parametrize("file", sorted(path.name for path in FOLDER.glob("*.flac")))
def test_a_recording_is_the_one_that_the_script_writes(file: str) -> None:
    one = made()[file]
    held, rate = soundfile.read(FOLDER / file, dtype="int32")
    assert rate == RATE
    assert soundfile.info(FOLDER / file).subtype == f"PCM_{one.bits}"
    step = 2 ** (32 - one.bits)
    assert np.abs(held.astype(np.int64) - digits(one)).max() <= step


def test_no_recording_is_driven_beyond_full_scale() -> None:
    assert max(np.abs(one.samples).max() for one in made().values()) < 0.9 * FULL_SCALE_V


def test_the_recordings_are_small_enough_to_be_cloned_with_the_project() -> None:
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 12 * MEGABYTE
