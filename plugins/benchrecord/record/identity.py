"""What a record says of itself: whose it is, who made it with what, and which one it follows."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from benchrecord.model.job import Job
from benchrecord.pages import words
from benchrecord.record.bag import AGENT, Info

COUNT, FORMER, FORMER_SEAL = "Bag-Count", "Former-Record", "Former-Record-SHA-512"


@dataclass(frozen=True, slots=True)
class Former:
    """The record that another follows: its name, the SHA-512 of its tag manifest, and which of its row it is."""

    name: str
    seal: str
    number: int = 1


def former(name: str, sealed: bytes, info: Mapping[str, str]) -> Former:
    """Name a record that was verified: all of it hangs on ``sealed``, its tag manifest."""
    counted = re.match(r"\d{1,4}", info.get(COUNT, ""))
    return Former(name, hashlib.sha512(sealed).hexdigest(), int(counted[0]) if counted else 1)


def day_of(job: Job) -> date | None:
    """Return the day that a record is of, as the job states it: no clock is asked, so that it is the same whenever it is made."""
    stated = [job.dates.returned, job.dates.finished, *(n.date for n in job.notes)]
    known = [d for d in stated if d]
    return max(known, default=job.dates.received)


def bag_info(job: Job, made_with: str, follows: Former | None) -> Info:
    """Return what stands in bag-info.txt: the labels of RFC 8493 (section 2.2.2), and ours of the record that went before."""
    technician, day = job.technician, day_of(job)
    serial = f", serial number {job.instrument.serial}" if job.instrument.serial else ""
    described = f"The record of work on one instrument: {words.instrument_name(job)}{serial}. {job.title}"
    labels = (
        ("Source-Organization", technician.name),
        ("Organization-Address", technician.address),
        ("Contact-Name", technician.name),
        ("Contact-Phone", technician.phone),
        ("Contact-Email", technician.email),
        ("External-Description", described),
        ("Bagging-Date", day.isoformat() if day else ""),
        ("External-Identifier", record_name(job, follows)),
        ("Internal-Sender-Identifier", job.id),
        ("Bag-Group-Identifier", job.id),
        (COUNT, f"{follows.number + 1 if follows else 1} of ?"),
        (AGENT, made_with),
    )
    return (*labels, (FORMER, follows.name), (FORMER_SEAL, follows.seal)) if follows else labels


def record_name(job: Job, follows: Former | None) -> str:
    """Return what a record is called: its job, and its number where it follows another."""
    return f"{job.id}-record" + (f"-{follows.number + 1}" if follows else "")
