"""Who may ask: a browser on this computer, by this computer's own name, and for changes only a page of this very run."""

from __future__ import annotations

import hmac
from collections.abc import Iterable
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIEnvironment

NAMES = ("127.0.0.1", "localhost")
TOKEN = "X-Bench-Token"  # noqa: S105  # the name of the header, not what stands in it
LARGEST = 64_000  # bytes of a request; a mark with all its words has less than 2,000
DRAINED = 1_000_000  # bytes that are read to be thrown away, so that who sent them hears why
OWN_PAGES = ("same-origin", "none")
HEADERS = (
    ("X-Content-Type-Options", "nosniff"),
    ("X-Frame-Options", "DENY"),
    ("Referrer-Policy", "no-referrer"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
)


@dataclass(frozen=True, slots=True)
class Answer:
    """What is sent back."""

    body: bytes
    type: str = "application/json"
    status: HTTPStatus = HTTPStatus.OK
    headers: tuple[tuple[str, str], ...] = ()

    def send(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Send it, with what keeps other pages away."""
        charset = "; charset=utf-8" if self.type.startswith(("text/", "application/j")) else ""
        own = [("Content-Type", self.type + charset), ("Content-Length", str(len(self.body))), ("Cache-Control", "no-store")]
        start_response(f"{self.status.value} {self.status.phrase}", [*own, *HEADERS, *self.headers])
        return [] if environ["REQUEST_METHOD"] == "HEAD" else [self.body]


class ShutError(Exception):
    """A request that is not let in."""

    def __init__(self, status: HTTPStatus, words: str) -> None:
        super().__init__(words)
        self.status = status


def let_in(environ: WSGIEnvironment) -> None:
    """Let in who asks this computer by its own name: a name that another host gave it comes with other headers.

    Raises
    ------
    ShutError
        Where the Host, or an Origin, is none of ours.
    """
    port = environ["SERVER_PORT"]
    hosts = {f"{name}:{port}" for name in NAMES} | ({*NAMES} if port == "80" else set())
    if environ.get("HTTP_HOST", "").lower() not in hosts:
        raise ShutError(HTTPStatus.MISDIRECTED_REQUEST, f"this is http://{NAMES[0]}:{port}/ and nothing else")
    origin = environ.get("HTTP_ORIGIN")
    if origin is not None and origin.lower() not in {f"http://{host}" for host in hosts}:
        raise ShutError(HTTPStatus.FORBIDDEN, "pages of another origin may not ask here")


def let_in_page(environ: WSGIEnvironment, token: str) -> None:
    """Let in the page of this run: it knows the token, which is compared in constant time.

    Raises
    ------
    ShutError
        Where the token is missing or another, or where a browser says that another site asks.
    """
    if environ.get("HTTP_SEC_FETCH_SITE", OWN_PAGES[0]) not in OWN_PAGES:
        raise ShutError(HTTPStatus.FORBIDDEN, "pages of another site may not ask here")
    given = environ.get("HTTP_" + TOKEN.upper().replace("-", "_"), "")
    if not hmac.compare_digest(given.encode("utf-8", "replace"), token.encode()):
        raise ShutError(HTTPStatus.FORBIDDEN, "the page is not of this run: load it anew")


def body_of(environ: WSGIEnvironment) -> bytes:
    """Return the body of a change: JSON of a length that is told, sent by a page that says where it is from.

    Raises
    ------
    ShutError
        Where it is anything else.
    """
    if "HTTP_ORIGIN" not in environ:
        raise ShutError(HTTPStatus.FORBIDDEN, "a change comes with the origin of its page")
    if environ.get("CONTENT_TYPE", "").partition(";")[0].strip().lower() != "application/json":
        raise ShutError(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "a change is JSON")
    told = environ.get("CONTENT_LENGTH", "")
    if not (told.isascii() and told.isdigit()) or "HTTP_TRANSFER_ENCODING" in environ:
        raise ShutError(HTTPStatus.LENGTH_REQUIRED, "a change comes with its length")
    length = int(told[:20])
    if length > LARGEST:
        environ["wsgi.input"].read(length if length <= DRAINED else 0)
        raise ShutError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"a change has at most {LARGEST} bytes")
    body: bytes = environ["wsgi.input"].read(length)
    return body
