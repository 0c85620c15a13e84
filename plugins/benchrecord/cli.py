"""The command line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from benchrecord import __version__
from benchrecord.disk import is_full, why
from benchrecord.interrupts import ended_alike
from benchrecord.model.job import Edition, Job
from benchrecord.problems import Problem, Severity, as_text, has_errors, in_order
from benchrecord.terminal import accept_every_encoding, discard_output, json_for_output

if TYPE_CHECKING:
    from benchrecord.publish.cache import Cache

EDITIONS = click.Choice([e.value for e in Edition])
NOT_ALL = click.Choice([e.value for e in Edition if e is not Edition.ARCHIVE])  # who does not see all
FOLDER = click.Path(path_type=Path)
FARTHEST = 10**6  # of an origin, in any unit: no drawing sheet is as large
KINDS = click.option(
    "--kind", "kinds", multiple=True, type=FOLDER, metavar="FILE", help="A Python file that adds a kind of check."
)


class _Commands(click.Group):
    """The commands: what they print is fit for every stream, and whatever ends them ends them as Ctrl+C does."""

    def main(self, *words: Any, **named: Any) -> Any:
        """Run a command; a disk that is full is no fault of the program."""
        accept_every_encoding()
        try:
            with ended_alike():
                return super().main(*words, **named)
        except OSError as error:
            if not is_full(error):
                raise
            discard_output()
            click.echo(f"Nothing more can be written: {why(error)}.", err=True)
            sys.exit(1)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, package_name="benchrecord")
def main() -> None:
    """Turn a job folder of notes, photos, trims and measurements into a finished, cross-linked site."""


@main.command()
@click.argument("folders", nargs=-1, type=FOLDER)
@click.option("--edition", type=EDITIONS, help="Who reads the site; without it, the portfolio or what mkdocs.yml says.")
@click.option("--site-dir", type=FOLDER, help="Where the site goes; without it, the folder site, site-owner or site-archive.")
@click.option(
    "--as-of",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YEAR-MONTH-DAY",
    help="The day from which the archive counts what is due; without it, the latest day that the jobs tell of.",
)
@KINDS
def build(
    folders: tuple[Path, ...], edition: str | None, site_dir: Path | None, kinds: tuple[Path, ...], *, as_of: datetime | None
) -> None:
    """Build the site of the given job folders, or the one that mkdocs.yml here describes."""
    from benchrecord.publish import build as building  # noqa: PLC0415  # mkdocs is slow to import

    try:
        day = as_of.date() if as_of else None
        made = building.build(folders, edition=edition, site_dir=site_dir, kinds=kinds, as_of=day)
    except building.Refused as refused:
        click.echo(str(refused), err=True)
        sys.exit(1)
    click.echo(f"Open {made / 'index.html'}")


@main.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--port", type=click.IntRange(1024, 65535), default=8000, show_default=True, help="Where it listens.")
@click.option(
    "--edition",
    type=EDITIONS,
    default=Edition.ARCHIVE.value,
    show_default=True,
    help="Whose pages are shown; the archive has all.",
)
@KINDS
def preview(folder: Path, port: int, edition: str, kinds: tuple[Path, ...]) -> None:
    """Show the pages of one job on this computer, anew at each change, and place pins and marks by clicking.

    Placing writes to boards/ and marks.csv in the folder; nothing else there is changed.
    """
    from benchrecord.publish.preview import server  # noqa: PLC0415  # mkdocs is slow to import

    _cache()
    try:
        server.preview(folder, port=port, edition=edition, kinds=kinds, tell=click.echo)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    except server.PortError as error:
        click.echo(f"Port {port} cannot be had: {error}. Choose another with --port.", err=True)
        sys.exit(1)


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
@click.option(
    "--edition", type=NOT_ALL, help="Warn where a text that this reader sees holds what is private elsewhere in the folder."
)
@KINDS
def check(folder: Path, kinds: tuple[Path, ...], edition: str | None, *, as_json: bool) -> None:
    """List all problems of a job folder at once. Nothing in it is changed."""
    from benchrecord.publish.work import warnings_of  # noqa: PLC0415  # mkdocs is slow to import

    jobs, problems, _ = _read(folder, kinds)
    problems = in_order([*problems, *warnings_of(jobs, _cache())])
    if edition:
        problems = in_order([*problems, *(p for where, job in jobs for p in _private_words(where, job, Edition(edition)))])
    if as_json:
        click.echo(json_for_output(json.dumps([p.as_json() for p in problems], indent=1, ensure_ascii=False)))
    else:
        click.echo(as_text(problems) + "\n\n" + _count(problems) if problems else "Nothing is wrong.")
    sys.exit(1 if has_errors(problems) else 0)


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@click.option(
    "--edition",
    type=EDITIONS,
    default=Edition.PORTFOLIO.value,
    show_default=True,
    help="For whom: what a reader may not see is left out.",
)
@KINDS
def findings(folder: Path, edition: str, kinds: tuple[Path, ...], *, as_json: bool) -> None:
    """Print what the sums concluded from a job folder."""
    from benchrecord.editions import for_reader  # noqa: PLC0415  # scipy is slow to import
    from benchrecord.findings.text import as_text as findings_text  # noqa: PLC0415
    from benchrecord.publish.hearing import findings_of  # noqa: PLC0415
    from benchrecord.publish.work import findings_json  # noqa: PLC0415

    jobs, problems, known = _read(folder, kinds)
    if has_errors(problems):
        click.echo(as_text(problems), err=True)
        sys.exit(1)
    found = findings_of(folder, for_reader(jobs[0][1], Edition(edition)), known, _cache())
    click.echo(json_for_output(findings_json(found, Edition(edition))) if as_json else findings_text(found), nl=not as_json)


@main.command()
@click.argument("folder", type=FOLDER)
@click.option(
    "--to", type=FOLDER, default=Path(), help="The folder that it goes to, such as a stick; without it, the one here."
)
@click.option("--form", type=click.Choice(["folder", "zip"]), default="folder", show_default=True, help="What is made.")
@click.option("--follows", type=click.Path(exists=True, path_type=Path), help="The record that was handed over before.")
@click.option(
    "--sign",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A private key of OpenSSH (Ed25519) to sign with.",
)
@click.option("--no-pdf", is_flag=True, help="Leave the PDF out: nothing but the package itself is needed then.")
@KINDS
def hand_over(folder: Path, *, kinds: tuple[Path, ...], **asked: Any) -> None:
    """Make the owner's permanent record of a job FOLDER: their site, the data and the originals, in one folder or ZIP that can be checked."""
    from benchrecord.publish import hand_over as handing  # noqa: PLC0415  # mkdocs is slow to import

    try:
        signing = _signing(asked["sign"]) if asked["sign"] else None
        zipped = asked["form"] == "zip"
        wish = handing.Wish(asked["to"], zipped, kinds, asked["follows"], signing, not asked["no_pdf"], asked["sign"])
        made = handing.hand_over(folder, wish)
    except handing.Refused as refused:
        click.echo(str(refused), err=True)
        sys.exit(1)
    click.echo(f"Handed over, and read back whole: {made}")


def _signing(key: Path) -> Callable[[bytes], bytes]:
    """Return what signs with a private key; its passphrase is asked for where it has one."""
    from benchrecord.publish.build import Refused  # noqa: PLC0415  # only where a record is signed
    from benchrecord.record.signature import SignatureError, is_locked, sign  # noqa: PLC0415

    try:
        content = key.read_bytes()
        passphrase = click.prompt(f"Passphrase of {key}", hide_input=True).encode() if is_locked(content) else None
        sign(b"", content, passphrase)  # a key that cannot sign is told before anything is made
    except (SignatureError, OSError) as error:
        raise Refused(str(error)) from error
    return lambda message: sign(message, content, passphrase)


@main.command()
@click.argument("path", type=click.Path(exists=True, path_type=Path))
@click.option(
    "--signers",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Public keys, one of which must have signed it.",
)
@click.option("--follows", type=click.Path(exists=True, path_type=Path), help="The record that it must follow.")
def verify(path: Path, signers: Path | None, follows: Path | None) -> None:
    """Hold a record that was handed over, a folder or a ZIP, against its manifests, and name each file that is not as it was.

    Nothing is written, and nothing outside PATH is read.
    """
    from benchrecord.record import report  # noqa: PLC0415  # only this command needs it
    from benchrecord.record.verify import verify as held  # noqa: PLC0415

    found = held(path)
    signed, wrong = report.held_to_signature(found, signers.read_text("utf-8", "replace") if signers else None)
    wrong += report.held_to_former(found, follows) if follows else ()
    found = replace(found, faults=(*found.faults, *wrong))
    click.echo(report.as_text(found, signed, name=str(path)), err=bool(found.faults))
    sys.exit(1 if found.faults else 0)


@main.command()
@click.argument("file", type=FOLDER)
@click.argument("table", type=FOLDER)
@click.option("--unit", type=click.Choice(["mm", "mil", "inch"]), help="What the file counts in, where it does not say.")
@click.option("--origin", metavar="X,Y", help="Where the board's lower left corner lies in the file, in its unit.")
@click.option("--y-down", is_flag=True, help="The file counts y downwards.")
@click.option("--replace", is_flag=True, help="Write over a table that is there already.")
def import_placement(file: Path, table: Path, unit: str | None, origin: str | None, *, y_down: bool, replace: bool) -> None:
    """Make a board's TABLE, such as boards/psu.csv, from the placement FILE of a layout program."""
    from benchrecord.publish import imports  # noqa: PLC0415  # only this command needs it

    try:
        corner = [Decimal(t) for t in origin.split(",")] if origin else []
    except InvalidOperation:
        corner = [Decimal(0)]
    if len(corner) not in (0, 2) or not all(c.is_finite() and abs(c) < FARTHEST for c in corner):
        raise click.BadParameter("two numbers, as 12.7,3.2", param_hint="--origin")
    frame = imports.Frame(unit, (corner[0], corner[1]) if corner else None, y_down)
    _import(lambda: imports.import_placement(file, table, frame, replace=replace))


@main.command()
@click.argument("file", type=FOLDER)
@click.argument("folder", type=FOLDER)
@click.option("--replace", is_flag=True, help="Write over the marks.csv that is there already.")
def import_marks(file: Path, folder: Path, *, replace: bool) -> None:
    """Write the marks.csv of a job FOLDER from Web Annotations, such as a site has beside its photographs."""
    from benchrecord.publish import imports  # noqa: PLC0415  # only this command needs it

    jobs, problems, _ = _read(folder, ())
    if not jobs:
        click.echo(as_text(problems), err=True)
        sys.exit(1)
    _import(lambda: imports.import_marks(file, folder, jobs[0][1], replace=replace))


def _private_words(folder: Path, job: Job, reader: Edition) -> list[Problem]:
    """Return what a reader's texts tell, and the owner's documents that cannot be searched for it."""
    from benchrecord.editions import for_reader  # noqa: PLC0415  # only where it is asked for
    from benchrecord.publish.documents import unsearchable  # noqa: PLC0415
    from benchrecord.publish.telling import private_words  # noqa: PLC0415

    documents = unsearchable(folder, for_reader(job, reader)) if reader is Edition.OWNER else ()
    return [*private_words(folder, job, reader, _cache()), *documents]


def _import(write: Callable[[], str]) -> None:
    """Write a table and say what was found, or why nothing was written."""
    from benchrecord.publish.imports import RefusedError  # noqa: PLC0415  # only these commands need it

    try:
        click.echo(write())
    except RefusedError as refused:
        click.echo(str(refused), err=True)
        sys.exit(1)


def _read(folder: Path, kinds: tuple[Path, ...]) -> tuple:  # type: ignore[type-arg]  # what work.read_all gives, and the kinds
    from benchrecord.checks import all_kinds  # noqa: PLC0415  # scipy is slow to import
    from benchrecord.publish.photos import looking  # noqa: PLC0415
    from benchrecord.publish.work import read_all  # noqa: PLC0415

    try:
        known = all_kinds(kinds)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    jobs, problems = read_all([folder], known, looking(_cache()))
    return jobs, problems, known


def _cache() -> Cache:
    """Return the user's cache; end where it is in a job folder."""
    from benchrecord.publish.cache import Cache, default_folder  # noqa: PLC0415  # only where files are read
    from benchrecord.publish.job_folders import refuse_default_cache_in_job_folder  # noqa: PLC0415
    from benchrecord.publish.site_lock import Refused  # noqa: PLC0415

    try:
        refuse_default_cache_in_job_folder()
    except Refused as refused:
        click.echo(str(refused), err=True)
        sys.exit(1)
    return Cache(default_folder())


def _count(problems: tuple[Problem, ...]) -> str:
    counts = {s: sum(p.severity is s for p in problems) for s in Severity}
    return ", ".join(f"{n} {s}{'' if n == 1 else 's'}" for s, n in counts.items() if n)
