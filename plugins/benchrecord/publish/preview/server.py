"""The server of a preview: builds the site of one job, again at each change of its folder, and shows it on this computer alone."""

from __future__ import annotations

import gc
import logging
import os
import socket
import time
import traceback
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from mkdocs.livereload import LiveReloadServer

from benchrecord.checks import all_kinds
from benchrecord.disk import remove_tree, scratch, why
from benchrecord.publish.build import Refused, build
from benchrecord.publish.cache import Cache, default_folder
from benchrecord.publish.preview.app import Place
from benchrecord.publish.preview.door import NAMES
from benchrecord.publish.preview.pages import with_additions

NOT_YET = "<!doctype html><html lang=en><meta charset=utf-8><title>Preview</title><body><h1>No pages yet</h1></body></html>"
Tell = Callable[[str], object]


@dataclass
class Builder:
    """Builds the site of a job; where that is refused, the former one stays, and ``problems`` says why."""

    folder: Path
    site: Path
    edition: str
    kinds: Sequence[Path]
    tell: Tell
    problems: str = ""
    made: bool = False

    def __call__(self) -> None:
        """Build once. Nothing is raised: the preview goes on."""
        started = time.monotonic()
        gc.unfreeze()  # each build freezes what it made, and the next would never let go of it
        gc.collect()
        if not self.made:
            with suppress(OSError):
                remove_tree(self.site)
        try:
            build([self.folder], edition=self.edition, site_dir=self.site, kinds=self.kinds)
        except Refused as refused:
            self.problems = str(refused).strip()
        except Exception:  # noqa: BLE001  # whatever it is, it is shown, and the next change may mend it
            self.problems = traceback.format_exc()
        else:
            self.made, self.problems = True, ""
        with suppress(OSError):  # on a full disk there is no page; what is told says why
            if not self.made:
                self.site.mkdir(exist_ok=True)
                (self.site / "index.html").write_text(NOT_YET, "utf-8", newline="\n")
        self.tell(self.problems or f"Built in {time.monotonic() - started:.1f} s.")


class PortError(Exception):
    """The port cannot be listened on; the message says why."""


class PreviewServer(LiveReloadServer):
    """The reloading server of mkdocs, that says where it is once it listens."""

    ready: Tell
    allow_reuse_address = os.name == "posix"  # on Windows that would let another program listen on the same port

    def server_activate(self) -> None:
        """Listen, and say where."""
        super().server_activate()
        self.ready(f"http://{NAMES[0]}:{self.server_port}/")


def server_of(builder: Builder, place: Place, *, port: int, ready: Tell) -> PreviewServer:
    """Return the server of a preview, on this computer's own address alone."""
    server = PreviewServer(builder, NAMES[0], port, str(builder.site))
    server.ready = ready
    server.set_app(place.wrap(with_additions(server.get_app(), lambda: builder.problems)))  # type: ignore[arg-type]  # it has one
    for path in (builder.folder, *builder.kinds):
        server.watch(str(path))
    return server


def preview(folder: Path, *, port: int, edition: str, kinds: Sequence[Path], tell: Tell) -> None:
    """Show a job until it is interrupted.

    Raises
    ------
    ValueError
        Where a file of ``kinds`` is none.
    PortError
        Where the port is taken.
    """
    logging.getLogger("mkdocs.livereload").setLevel(logging.ERROR)  # it would tell of every request
    place = Place(folder.resolve(), all_kinds(kinds), Cache(default_folder()))
    try:
        with socket.create_server((NAMES[0], port)):  # a taken port is told of before anything is built
            pass
    except OSError as error:
        raise PortError(why(error)) from error
    with scratch(prefix="benchrecord-preview-") as room:
        builder = Builder(folder.resolve(), room / "site", edition, kinds, tell)
        builder()
        server = server_of(
            builder, place, port=port, ready=lambda url: tell(f"Open {url} in a browser; Ctrl+C ends the preview.")
        )
        try:
            server.serve()  # type: ignore[no-untyped-call]  # mkdocs has no types for it
        except KeyboardInterrupt:
            tell("")
        finally:
            server.shutdown()
