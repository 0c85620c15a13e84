"""At which quality photographs are published: the least at which every one of a set keeps its structure, by SSIM.

``python tests/bench/quality_benchmark.py`` reduces the demo's photographs, and those that come with scikit-image, to each published
width, codes them at several qualities, and prints for each format, width and quality the least and the mean SSIM of their luminance
against the picture before it was coded, and the mean size. The quality to take is the least whose least SSIM reaches the criterion.

SSIM after Wang, Bovik, Sheikh and Simoncelli, IEEE Transactions on Image Processing 13 (4), 2004, as scikit-image works it out:
Gaussian windows of 1.5 pixels, the whole range of levels.
"""

from __future__ import annotations

import io
import statistics
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import skimage
from PIL import Image
from sizes import TINY
from skimage.metrics import structural_similarity

from benchrecord.figures.photo import JPEG_QUALITY, LEAST_SSIM, LONGEST, WEBP_METHOD, WEBP_QUALITY, encoded

ROOT = Path(__file__).parents[2]
PHOTOGRAPHS = ("astronaut.png", "chelsea.png", "coffee.png", "motorcycle_left.png", "rocket.jpg")
QUALITIES = (75, 85) if TINY else tuple(range(60, 96, 5))


def main() -> None:
    """Measure, print, and say whether the published qualities are those that the criterion asks for."""
    for ending, longest in [*(("webp", width) for width in LONGEST), ("jpg", LONGEST[1])]:
        pictures = list(reduced(longest))
        rows = {quality: measured(pictures, ending, quality) for quality in QUALITIES}
        for quality, (least, mean, size) in rows.items():
            print(f"{ending} {longest:5} quality {quality}: SSIM at least {least:.3f}, mean {mean:.3f}; {size / 1000:.0f} kB")
        wanted = next((quality for quality, (least, _, _) in rows.items() if least >= LEAST_SSIM), QUALITIES[-1])
        taken = WEBP_QUALITY[longest] if ending == "webp" else JPEG_QUALITY
        print(f"{ending} {longest:5}: {wanted} is enough, {taken} is taken: {'right' if wanted == taken else 'NOT the same'}\n")


def reduced(longest: int) -> Iterator[Image.Image]:
    """Yield each picture at a width; pictures that are smaller stay as they are, where they are not much smaller."""
    demo = sorted((ROOT / "sample_job/photos").glob("*.jpg"))
    demo = demo[:2] if TINY else demo
    others = [Path(skimage.__file__).parent / "data" / name for name in PHOTOGRAPHS]
    for path in (*demo, *others):
        with Image.open(path) as image:
            scale = min(longest / max(image.size), 1.0)
            if max(image.size) >= 0.8 * longest:
                size = (round(image.width * scale), round(image.height * scale))
                yield image.convert("RGB").resize(size, Image.Resampling.LANCZOS)


def measured(pictures: list[Image.Image], ending: str, quality: int) -> tuple[float, float, float]:
    """Return the least and the mean SSIM at a quality, and the mean size in bytes."""
    found = [one(picture, ending, quality) for picture in pictures]
    similar, sizes = zip(*found, strict=True)
    return min(similar), statistics.mean(similar), statistics.mean(sizes)


def one(picture: Image.Image, ending: str, quality: int) -> tuple[float, int]:
    """Return the SSIM of the luminance of a coded picture against itself before, and its size in bytes."""
    data = encoded(picture, ending, quality=quality).data
    before, after = (np.asarray(image.convert("L")) for image in (picture, Image.open(io.BytesIO(data))))
    return float(structural_similarity(before, after, data_range=255, gaussian_weights=True, use_sample_covariance=False)), len(
        data
    )


if __name__ == "__main__":
    print(f"criterion: SSIM at least {LEAST_SSIM}; WebP by method {WEBP_METHOD}")
    main()
