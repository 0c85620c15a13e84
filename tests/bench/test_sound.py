"""Stretches of a recording."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.bench.sound import PIECE, all_numbers, blocks, level_dbfs, rms, stretch
from sounds import MemorySound, seconds


@given(start=st.integers(0, 120), stop=st.integers(0, 150), size=st.integers(1, 40))
def test_blocks_put_together_are_the_stretch(start: int, stop: int, size: int) -> None:
    sound = MemorySound(np.arange(100.0))
    pieces = list(blocks(sound, start, stop, 0, size=size))
    assert [x for p in pieces for x in p] == stretch(sound, start, stop, 0).tolist() == list(range(start, min(stop, 100)))
    assert all(len(p) == size for p in pieces[:-1])


def test_a_stretch_longer_than_a_piece_is_whole() -> None:
    samples = np.arange(2 * PIECE + 7.0)
    assert np.array_equal(stretch(MemorySound(samples), 3, len(samples) + 99, 0), samples[3:])


def test_levels_refer_to_a_sine_of_full_scale() -> None:
    assert level_dbfs(rms(np.sin(2 * np.pi * 100 * seconds(1)))) == pytest.approx(0, abs=1e-9)
    assert level_dbfs(1.0) == pytest.approx(20 * math.log10(math.sqrt(2)))  # a square of full scale
    assert (level_dbfs(rms(np.zeros(9))), rms(np.zeros(0))) == (None, 0.0)


def test_what_is_no_number_is_found_and_counts_as_nothing_in_blocks() -> None:
    samples = np.array([0.5, math.nan, math.inf, -math.inf])
    assert not all_numbers(stretch(MemorySound(samples), 0, 4, 0))
    assert next(blocks(MemorySound(samples), 0, 4, 0)).tolist() == [0.5, 0.0, 1.0, -1.0]
