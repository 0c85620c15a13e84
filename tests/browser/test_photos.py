"""A page of sixty photographs: what its first screen weighs, on screens of every density."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from PIL import Image
from playwright.sync_api import Browser

from folders import write
from once import once

ROOT = Path(__file__).parents[2]
MANY, MOST_KB, WIDE = 60, 600, 1600
SCREENS = {
    "wide": (1280, 900, 1),
    "wide, of two pixels in one": (1280, 900, 2),
    "large, of two pixels in one": (1728, 1117, 2),
    "tablet": (820, 1180, 2),
    "tablet on its side": (1180, 820, 2),
    "telephone": (390, 844, 1),
    "telephone of two pixels in one": (430, 932, 2),
    "telephone of three pixels in one": (430, 932, 3),
    "telephone on its side": (932, 430, 3),
}
SHOWN = "[...document.images].filter(i => i.getBoundingClientRect().top < innerHeight).map(i => [i.currentSrc, i.clientWidth])"
pytestmark = pytest.mark.slow


def photographs() -> Iterator[bytes]:
    """Yield as many parts of the demo's photographs, each with pixels of its own."""
    whole = [image for path in sorted((ROOT / "sample_job/photos").glob("*.jpg")) if (image := Image.open(path)).width == WIDE]
    for number in range(MANY):
        image, left, out = whole[number % len(whole)], number // len(whole) * 16, io.BytesIO()
        image.crop((left, 0, left + WIDE - 80, image.height - 60)).save(out, "JPEG", quality=90)
        yield out.getvalue()


@pytest.fixture(scope="session")
def sixty(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    """Build two jobs of the same sixty photographs: in pairs as found and as left, and each by itself."""
    return once(tmp_path_factory, "sixty", _build_sixty) / "site"


def _build_sixty(path: Path) -> None:
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    pictures = list(photographs())
    names = {
        "pairs": [f"{n // 2:02}-{('before', 'after')[n % 2]}" for n in range(MANY)],
        "singly": [f"{n:02}" for n in range(MANY)],
    }
    folders = [
        write(path / job, {f"photos/{n}.jpg": p for n, p in zip(own, pictures, strict=True)}) for job, own in names.items()
    ]
    for folder, own in zip(folders, names.values(), strict=True):
        listed = "".join(f"photos/{n}.jpg,Picture {n},{n[3:]}\n" for n in own)
        write(folder, {"job.yml": f"title: {folder.name}\npublish: yes\n", "photos.csv": f"file,caption,stage\n{listed}"})
    build(folders, edition=None, site_dir=path / "site", kinds=[])


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("job", ["pairs", "singly"])
def test_the_first_screen_of_sixty_photographs_is_light(sixty: Path, browser: Browser, job: str, screen: str) -> None:
    """All that is fetched before anybody scrolls, uncompressed; and no picture is shown larger than it is."""
    width, height, density = SCREENS[screen]
    context = browser.new_context(viewport={"width": width, "height": height}, device_scale_factor=density)
    page, asked = context.new_page(), set[str]()
    page.on("request", lambda request: asked.add(urlsplit(request.url).path))
    page.goto((sixty / f"jobs/{job}/photos.html").as_uri(), wait_until="load")
    page.wait_for_timeout(500)
    shown = page.evaluate(SHOWN)
    context.close()
    files = [path for path in map(Path, map(unquote, asked)) if path.is_file()]
    assert sum(path.suffix in (".webp", ".jpg") for path in files) < MANY / 2
    assert sum(path.stat().st_size for path in files) <= MOST_KB * 1000
    assert shown
    assert all(int(name.rpartition("-")[2].partition(".")[0]) >= across for name, across in shown)


def test_what_is_in_view_gets_the_pixels_of_a_fine_screen_once_somebody_moves_on(sixty: Path, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 900}, device_scale_factor=2)
    page = context.new_page()
    page.goto((sixty / "jobs/pairs/photos.html").as_uri(), wait_until="load")
    page.mouse.wheel(0, 400)
    page.wait_for_function(
        "[...document.images].every(i => { const r = i.getBoundingClientRect();"
        " return r.bottom < 0 || r.top > innerHeight || i.currentSrc.endsWith('-960.webp') })"
    )
    below = "document.querySelectorAll('.br-contact-sheet source')[40].sizes"
    assert page.evaluate(below) == "10em"
    context.close()
