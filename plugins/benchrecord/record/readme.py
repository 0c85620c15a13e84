"""README.txt: what a record is, how to open it with nothing but a browser and a reader of PDF, and how to check it. In plain words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from benchrecord.model.job import Job
from benchrecord.pages import words

WIDTH = 72


@dataclass(frozen=True, slots=True)
class Told:
    """What README.txt tells besides the job: which things lie in the record, what is left out and why, and which record went before."""

    has: frozenset[str]
    left_out: Sequence[tuple[str, str]] = ()
    former: str = ""
    signed: bool = False


THINGS = (
    ("data/record.pdf", "the whole record to read and to print. Open it with any PDF reader. It is a PDF/A, the kind that archives keep: everything it needs is in it, and the data is attached to it."),
    ("data/site", "the same with all pictures and links, to look around in. Open data/site/index.html with any browser. It needs no network, and asks for none."),
    ("data/photographs", "the photographs as they were taken, in full size; of a file that holds several, the first. What the camera wrote beside the pixels is left out: only your own tell when and with what they were taken, and where only if that was agreed."),
    ("data/recordings", "the recordings as they were made, without what the recorder wrote beside the sound."),
    ("data/documents", "documents that may be passed on, as they are, with what their makers wrote into them."),
    ("data/dataset", "every table and every result as plain files for a spreadsheet or a program. datapackage.json tells what each column holds, object.jsonld what was done in the words that museums use, marks.jsonld what is marked in the photographs."),
)  # fmt: skip
CHECKED = """Each file is listed with a fingerprint (SHA-512) in manifest-sha512.txt. With benchrecord, "benchrecord verify" and the
name of this folder tells whether every file is there, unchanged, and nothing was added. Without it, any program for BagIt bags
does the same (RFC 8493), and on Linux or macOS, in this folder:"""
KEPT = """Keep two copies in two places, and look at them once a year: sticks fail. Copy the whole folder, with all its files. There is no password, and no program is needed that could be lost."""
NOT_CERTIFIED = """This record says what was done and what was read. It certifies nothing: whether the instrument may be used, where and by
whom, is decided by local rules and by licensed practice. Leave its inside to somebody who knows mains voltage and stored charge."""


def readme(job: Job, told: Told) -> bytes:
    """Return README.txt."""
    head = f"{words.instrument_name(job)}: {job.title}"
    parts = [
        f"{head}\n{'=' * min(len(head), WIDTH)}", _filled(_what(job, told)), "WHAT IS HERE", *_things(told), "HOW TO CHECK IT", _filled(CHECKED),
        "    sha512sum -c manifest-sha512.txt      (macOS: shasum -a 512 -c)",
        *([_filled("It is signed as well: tagmanifest-sha512.txt.sig is an OpenSSH signature of tagmanifest-sha512.txt. Ask the technician for the fingerprint of their key, and compare it with what benchrecord verify or ssh-keygen tells.")] if told.signed else []),
        "HOW TO KEEP IT", _filled(KEPT), *_without(told), "WHAT IT IS NOT", _filled(NOT_CERTIFIED),
    ]  # fmt: skip
    return ("\n\n".join(parts) + "\n").encode()


def _what(job: Job, told: Told) -> str:
    of = ", ".join(x for x in (job.instrument.kind, str(job.instrument.year or "")) if x)
    reach = ", ".join(x for x in (job.technician.email, job.technician.phone, job.technician.address) if x)
    maker = f"{job.technician.name} ({reach})" if job.technician.name and reach else job.technician.name or reach
    by = f" It was made by {maker}." if maker else ""
    former = f" It follows a former record, {told.former}: keep both." if told.former else ""
    serial = f", serial number {job.instrument.serial}" if job.instrument.serial else ""
    return f"This is the record of work on one instrument ({of or 'an instrument'}{serial}). It belongs with the instrument.{by}{former}"


def _things(told: Told) -> list[str]:
    return [_filled(f"{path}: {about}", "  ") for path, about in THINGS if path in told.has]


def _without(told: Told) -> list[str]:
    if not told.left_out:
        return []
    return ["WHAT IS NOT HERE", "\n".join(_filled(f"{file}: {why}", "  ") for file, why in told.left_out)]


def _filled(text: str, before: str = "") -> str:
    return textwrap.fill(
        " ".join(text.split()),
        WIDTH,
        initial_indent=before,
        subsequent_indent=before * 2,
        break_long_words=False,
        break_on_hyphens=False,
    )
