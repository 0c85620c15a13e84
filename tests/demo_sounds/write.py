"""Writes the recordings of the demo: ``python -m tests.demo_sounds.write``, in the root of the project."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from .takes import FULL_SCALE_V, RATE, Recorded, every

FOLDER = Path(__file__).parents[2] / "sample_job" / "recordings"


def digits(one: Recorded) -> NDArray[np.int32]:
    """Return the samples as the converter counts them, full scale being 2 to the power of 31; the bits that it lacks are zero."""
    steps = 2 ** (one.bits - 1)
    counted = np.clip(np.round(one.samples / FULL_SCALE_V * steps), -steps, steps - 1)
    return np.asarray(np.left_shift(counted.astype(np.int32), 32 - one.bits), np.int32)


def main() -> None:
    """Write every recording anew."""
    FOLDER.mkdir(exist_ok=True)
    for one in every():
        soundfile.write(FOLDER / one.file, digits(one), RATE, subtype=f"PCM_{one.bits}", format="FLAC")


if __name__ == "__main__":
    main()
