"""What a preview adds to a site's pages on their way to the browser: a link to placing, what is wrong, and parts of long files."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, BinaryIO
from urllib.parse import quote

from benchrecord.publish.preview.door import HEADERS

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

RANGE = re.compile(r"bytes=(\d{0,18})-(\d{0,18})")  # one range; RFC 9110, section 14
BOARD = re.compile(r"/jobs/[^/]+/boards/([^/]+)\.html")
PHOTOS = re.compile(r"/jobs/[^/]+/photos\.html")
HEADING_END = b"</h1>"
BLOCK = 1 << 16
LOOK = "margin:1em 0;padding:.6em 1em;border:2px solid #b4500a;border-radius:3px;overflow-x:auto"


@dataclass
class Sent:
    """What a wrapped application began to send."""

    status: str = ""
    headers: list[tuple[str, str]] = field(default_factory=list)

    def start(self, status: str, headers: list[tuple[str, str]], _error: object = None) -> Callable[[bytes], object]:
        """Take the place of the server's own ``start_response``."""
        self.status, self.headers = status, headers
        return lambda _: None

    def header(self, name: str) -> str:
        """Return a header; empty where there is none."""
        return next((value for key, value in self.headers if key.lower() == name), "")

    def with_length(self, length: int) -> list[tuple[str, str]]:
        """Return the headers with another length."""
        return [*((k, v) for k, v in self.headers if k.lower() != "content-length"), ("Content-Length", str(length)), *HEADERS]


def with_additions(site: WSGIApplication, problems: Callable[[], str]) -> WSGIApplication:
    """Wrap the server of a site: its pages get what a preview adds, its other files can be had in parts."""

    def answer(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        sent = Sent()
        body = site(environ, sent.start)
        if sent.header("content-type").startswith("text/html"):
            page = added(b"".join(body), environ["PATH_INFO"], problems())
            start_response(sent.status, sent.with_length(len(page)))
            return [page]
        if sent.status.startswith("200") and sent.header("content-length"):
            return _in_part(environ, sent, body, start_response)
        start_response(sent.status, [*sent.headers, *HEADERS])
        return body

    return answer


def added(page: bytes, path: str, problems: str) -> bytes:
    """Put a link to placing below the heading of a board's page or of the photographs, and what is wrong below any heading."""
    board, photos = BOARD.fullmatch(path), PHOTOS.fullmatch(path)
    more = ""
    if board or photos:
        query = f"?board={quote(board[1])}" if board else ""
        words = "Place its parts, points and marks by hand" if board else "Place marks by hand"
        more = f'<p><a href="/place/{query}">{words}</a></p>'
    if problems:
        what = "<strong>The folder has problems; this is how it was before.</strong>"
        more += f'<div role="alert" style="{LOOK}"><p>{what}</p><pre style="margin:0">{html.escape(problems)}</pre></div>'
    at = page.find(HEADING_END)
    return page[: at + len(HEADING_END)] + more.encode() + page[at + len(HEADING_END) :] if at >= 0 else page


def _in_part(environ: WSGIEnvironment, sent: Sent, body: Iterable[bytes], start_response: StartResponse) -> Iterable[bytes]:
    """Send the part of a file that was asked for: a player of recordings jumps by it."""
    whole, file = int(sent.header("content-length")), getattr(body, "filelike", None)
    asked = _asked(environ.get("HTTP_RANGE", "")) if file else None
    headers = [("Accept-Ranges", "bytes")]
    if environ["REQUEST_METHOD"] == "HEAD":
        _close(body)
        start_response(sent.status, [*sent.with_length(whole), *headers])
        return []
    if not asked:
        start_response(sent.status, [*sent.with_length(whole), *headers])
        return body
    first, last = part(*asked, whole)
    if first > last:
        _close(body)
        start_response("416 Range Not Satisfiable", [*sent.with_length(0), *headers, ("Content-Range", f"bytes */{whole}")])
        return []
    where = ("Content-Range", f"bytes {first}-{last}/{whole}")
    start_response("206 Partial Content", [*sent.with_length(last - first + 1), *headers, where])
    return _bytes(file, first, last)  # type: ignore[arg-type]  # it is there, or nothing was asked for


def _asked(header: str) -> tuple[str, str] | None:
    """Return the ends of the range that a header asks for; None where it asks for none, or for nonsense, which is passed over."""
    match = RANGE.fullmatch(header)
    if not match or not (match[1] or match[2]) or (match[1] and match[2] and int(match[2]) < int(match[1])):
        return None
    return match[1], match[2]


def part(first: str, last: str, whole: int) -> tuple[int, int]:
    """Return the first and the last byte of a range: ``0-99``, ``100-``, or ``-100`` for the end; the first above the last where none is."""
    if not first:
        return (max(whole - int(last), 0), whole - 1) if int(last) else (1, 0)
    start, end = int(first), min(int(last or whole - 1), whole - 1)
    return (start, end) if start < whole else (1, 0)


def _bytes(file: BinaryIO, first: int, last: int) -> Iterator[bytes]:
    with file:
        file.seek(first)
        left = last - first + 1
        while left > 0 and (block := file.read(min(left, BLOCK))):
            left -= len(block)
            yield block


def _close(body: Any) -> None:
    close = getattr(body, "close", None)
    if close:
        close()
