"""What all tests share: a cache of their own, and the demo site, built once for all processes."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from browsing import browser, narrow, wide  # noqa: F401  # one browser for all tests: two cannot run in one process
from firefox import firefox  # noqa: F401
from once import DEMO_EPOCH, once, shared_by_all
from systems import one_for_all, windows  # noqa: F401  # other systems, imitated

settings.register_profile("untimed", deadline=None)  # other work on the machine is no fault of a test's
settings.load_profile("untimed")
ROOT = Path(__file__).parent.parent


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Run one process more than there are cores: one of them often waits for a site that another builds."""
    own = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return own + 1


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Keep the tests' pictures out of the user's cache; all processes of a run share them."""
    folder, before = shared_by_all(tmp_path_factory) / "shared-cache", os.environ.get("BENCHRECORD_CACHE")
    os.environ["BENCHRECORD_CACHE"] = str(folder)
    yield folder
    if before is None:
        del os.environ["BENCHRECORD_CACHE"]
    else:
        os.environ["BENCHRECORD_CACHE"] = before


@pytest.fixture(scope="session")
def demo_site(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:  # noqa: ARG001  # the cache is set first
    """Build the site that mkdocs.yml describes, once for all tests."""
    from benchrecord.publish.build import build  # noqa: PLC0415  # most tests do without mkdocs

    def make(folder: Path) -> None:
        with pytest.MonkeyPatch.context() as here:
            here.chdir(ROOT)
            here.setenv("SOURCE_DATE_EPOCH", DEMO_EPOCH)
            build([], edition=None, site_dir=folder / "site", kinds=[])

    return once(tmp_path_factory, "demo", make) / "site"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """Make the smallest job folder there is."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "job.yml").write_text("title: A small job\nowner: none\npublish: yes\n", "utf-8")
    return folder
