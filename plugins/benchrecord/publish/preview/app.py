"""The addresses of placing: its page, a photograph, what lies where, and changes."""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from http import HTTPStatus
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs

from benchrecord.checks import schemas
from benchrecord.checks.kind import Kind
from benchrecord.intake.edits import CannotChangeError
from benchrecord.intake.paths import files_of, on_disk
from benchrecord.intake.picture_file import read_picture
from benchrecord.intake.placing import read_named, with_places
from benchrecord.model.job import Board, Job, Photo
from benchrecord.pages.addresses import file_name
from benchrecord.problems import Problem
from benchrecord.publish.cache import Cache
from benchrecord.publish.photos import largest, looking
from benchrecord.publish.preview.asked import Asked, NotAskedRightError
from benchrecord.publish.preview.changes import MARKS_FILE, wish
from benchrecord.publish.preview.door import Answer, ShutError, body_of, let_in, let_in_page
from benchrecord.publish.preview.saving import ChangedMeanwhileError, Files
from benchrecord.publish.preview.scene import Scene, as_json

if TYPE_CHECKING:
    from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

ASSETS = Path(__file__).parent / "assets"
PREFIX = "/place/"
OWN_ONLY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"  # fmt: skip
TYPES = {"webp": "image/webp", "jpg": "image/jpeg"}
TOO_FEW = re.compile(r"\d points?")  # the page says that by itself, at each click
SCRIPTS = {"place.js": "text/javascript", "place.css": "text/css"}


class GoneError(Exception):
    """An address where nothing is."""


@dataclass
class Place:
    """The place mode of one job folder; ``token`` is known to the pages of this run alone."""

    folder: Path
    kinds: Mapping[str, Kind]
    cache: Cache
    files: Files = field(init=False)
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _named: tuple[object, Job] | None = None
    _placed: tuple[Job, object, tuple[Job, tuple[Problem, ...]]] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        """Take the folder's files into hand."""
        self.files = Files(self.folder)

    def wrap(self, site: WSGIApplication) -> WSGIApplication:
        """Answer for placing before a site; both let in only who asks this computer by its own name."""

        def answer(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
            try:
                let_in(environ)
                if not environ["PATH_INFO"].startswith(PREFIX):
                    if environ["REQUEST_METHOD"] not in ("GET", "HEAD"):
                        raise ShutError(HTTPStatus.METHOD_NOT_ALLOWED, "pages are only read")  # noqa: TRY301  # all refusals leave by one door
                    return site(environ, start_response)
                sent = self._answer(environ)
            except ShutError as shut:
                sent = _refusal(shut.status, str(shut))
            except GoneError:
                sent = _refusal(HTTPStatus.NOT_FOUND, "nothing is here")
            except NotAskedRightError as wrong:
                sent = _refusal(HTTPStatus.BAD_REQUEST, str(wrong))
            except CannotChangeError as cannot:
                sent = _refusal(HTTPStatus.UNPROCESSABLE_ENTITY, str(cannot))
            except OSError as error:  # a file that went in that very moment
                sent = _refusal(HTTPStatus.SERVICE_UNAVAILABLE, f"the folder cannot be read: {error.strerror}")
            return sent.send(environ, start_response)

        return answer

    def _answer(self, environ: WSGIEnvironment) -> Answer:
        name = environ["PATH_INFO"].removeprefix(PREFIX)
        asked = {key: values[0] for key, values in parse_qs(environ.get("QUERY_STRING", ""), keep_blank_values=True).items()}
        reading: dict[str, Callable[[], Answer]] = {
            "": self._page,
            "picture": lambda: self._picture(asked.get("photo", "")),
            "state": lambda: self._state(environ, asked),
            **{script: lambda script=script: Answer((ASSETS / script).read_bytes(), SCRIPTS[script]) for script in SCRIPTS},  # type: ignore[misc]  # a default argument
        }
        writing = {"change": self._change, "undo": self._undo}
        if name not in reading and name not in writing:
            raise GoneError
        if environ["REQUEST_METHOD"] not in (("POST",) if name in writing else ("GET", "HEAD")):
            raise ShutError(HTTPStatus.METHOD_NOT_ALLOWED, "not in this way")
        if name in reading:
            return reading[name]()
        let_in_page(environ, self.token)
        return writing[name](Asked.of(body_of(environ)))

    def _page(self) -> Answer:
        page = (ASSETS / "place.html").read_text("utf-8").replace("{token}", self.token)
        return Answer(page.encode(), "text/html", headers=(("Content-Security-Policy", OWN_ONLY),))

    def _picture(self, file: str) -> Answer:
        photo = next((p for p in self._job().photos if p.file == file), None)
        if photo is None:
            raise GoneError
        content, ending = largest(self.folder, self._measured(photo), self.cache)
        return Answer(content, TYPES[ending])

    def _state(self, environ: WSGIEnvironment, asked: Mapping[str, str]) -> Answer:
        let_in_page(environ, self.token)
        return _json(self._shown(asked.get("board"), asked.get("photo", "")))

    def _change(self, asked: Asked) -> Answer:
        board, photo = asked.text("board", required=False), asked.text("photo")
        return self._tried(lambda: self._write(asked, board, photo), board, photo)

    def _undo(self, asked: Asked) -> Answer:
        board, photo = asked.text("board", required=False), asked.text("photo", required=False)
        return self._tried(lambda: f"Undone: {self.files.undo()}.", board, photo)

    def _write(self, asked: Asked, board: str, photo: str) -> str:
        scene = self._scene(self._places()[0], board, photo)
        if scene is None or scene.photo.file != photo or (scene.board.id if scene.board else "") != board:
            raise NotAskedRightError("the folder has no such board or photograph")
        wanted = wish(scene, asked)
        self.files.save(
            wanted.file, asked.version(wanted.file), lambda data: wanted.change(data, self._like(wanted.file)), wanted.words
        )
        return f"Written to {wanted.file}: {wanted.words}."

    def _tried(self, act: Callable[[], str], board: str, photo: str) -> Answer:
        """Do something that may be refused; answer with what it was, and with what lies where after it."""
        said, error, status = "", "", HTTPStatus.OK
        try:
            said = act()
        except ChangedMeanwhileError as changed:
            error, status = str(changed), HTTPStatus.CONFLICT
        except CannotChangeError as cannot:
            error, status = f"Not written: {cannot}.", HTTPStatus.UNPROCESSABLE_ENTITY
        return _json({**self._shown(board, photo), "said": said, "error": error}, status)

    def _shown(self, board: str | None, photo: str) -> dict[str, Any]:
        """Return all that the page shows. The versions are taken first: what is read after them may only be newer."""
        scene = self._scene(self._places()[0], board, photo)
        if scene is None:
            return {"empty": "There are no photographs yet: put some into the folder photos."}
        names = [MARKS_FILE, *([f"boards/{scene.board.id}.csv", f"boards/{scene.board.id}.yml"] if scene.board else [])]
        versions = {name: self.files.version(name) for name in names}
        job, problems = self._places()
        scene = self._scene(job, scene.board.id if scene.board else "", scene.photo.file) or scene
        told = [
            f"{p.place.file}, line {p.place.line}: {p.got}; {p.remedy}"
            for p in problems
            if p.place.file in names and not TOO_FEW.fullmatch(p.got)
        ]
        steps = self.files.steps
        return {**as_json(scene), "versions": versions, "undo": steps[-1].words if steps else "", "problems": told}

    def _scene(self, job: Job, board: str | None, photo: str) -> Scene | None:
        """Return the scene of a board (empty: none; None: whichever suits) and a photo (empty: the first that suits)."""
        own = next((b for b in job.boards if board and board in (b.id, file_name(b.id))), None)
        shown = _photo_of(job, own, photo)
        if shown is None:
            return None
        if board is None:
            own = next((b for b in job.boards if b.id == shown.board or any(p.file == shown.file for p in b.photos)), None)
        return Scene(job, self._measured(shown), own)

    def _measured(self, photo: Photo) -> Photo:
        """Give a photo its size and what it is known by."""
        facts, problem = read_picture(self.folder, photo.file, looking(self.cache))
        if facts is None:
            raise NotAskedRightError(f"{photo.file}: {problem.got if problem else 'no picture'}")
        return replace(photo, width=facts.width, height=facts.height, content=facts.content)

    def _places(self) -> tuple[Job, tuple[Problem, ...]]:
        """Return the job with its boards and marks, and what is wrong in their files; read anew where they have other bytes."""
        named, told = self._job(), self._digests()
        if self._placed is None or self._placed[0] is not named or self._placed[1] != told:
            placed = with_places(named, self.folder)
            if self._digests() != told:  # it was written to in that very moment: right for now, and kept for nobody
                return placed
            self._placed = named, told, placed
        return self._placed[2]

    def _digests(self) -> list[tuple[str, str]]:
        names = [n for n in files_of(self.folder)[0] if n.startswith("boards/") or n == MARKS_FILE]
        return [(n, hashlib.sha256(on_disk(self.folder, n).read_bytes()).hexdigest()) for n in names]

    def _job(self) -> Job:
        """Return what names parts and photographs, read anew where a file of it has changed."""
        names = [n for n in files_of(self.folder)[0] if not n.startswith("boards/") and n != MARKS_FILE]
        told = [(n, s.st_mtime_ns, s.st_size) for n in names if (s := on_disk(self.folder, n).stat())]
        with self._lock:
            if self._named is None or self._named[0] != told:
                self._named = told, read_named(self.folder, schemas(self.kinds))
            return self._named[1]

    def _like(self, name: str) -> bytes:
        """Return another table, best one beside it, that a new one is to be written like."""
        tables = [n for n in files_of(self.folder)[0] if n.endswith(".csv") and n != name]
        first = min(tables, key=lambda n: PurePath(n).parent != PurePath(name).parent, default="")
        return on_disk(self.folder, first).read_bytes() if first else b""


def _photo_of(job: Job, board: Board | None, file: str) -> Photo | None:
    """Return a photo by name; else the first of a board, else the first of all."""
    names = [file, *(p.file for p in board.photos)] if board else [file]
    own = [p for p in job.photos if board and p.board == board.id]
    return next((p for n in names for p in job.photos if p.file == n), next(iter([*own, *job.photos]), None))


def _json(value: object, status: HTTPStatus = HTTPStatus.OK) -> Answer:
    return Answer(json.dumps(value, ensure_ascii=False, allow_nan=False).encode(), status=status)


def _refusal(status: HTTPStatus, words: str) -> Answer:
    return _json({"error": words}, status)
