"""Running a preview for tests."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from benchrecord.publish.preview.app import Place
from benchrecord.publish.preview.server import Builder, server_of


@contextmanager
def served(place: Place, builder: Builder) -> Iterator[int]:
    """Serve what a builder has built, with the place mode before it; give the port."""
    listens = threading.Event()
    server = server_of(builder, place, port=0, ready=lambda _: listens.set())
    thread = threading.Thread(target=server.serve)
    thread.start()
    try:
        assert listens.wait(60)
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
