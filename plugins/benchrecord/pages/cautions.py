"""The usual cautions, where the work can hurt someone. Common practice, no source; they never say that something is safe."""

from __future__ import annotations

import re

from benchrecord.model.job import Job

MAINS = "Mains voltage is present inside while the instrument is plugged in, also when it is switched off: unplug it before it is opened."
CHARGE = "Reservoir capacitors hold a charge after the plug is pulled: let them bleed down and measure before touching."
HOT = "Power resistors, regulators and heat sinks burn skin in use and for minutes after."
SOLDER = "Old solder holds lead and hot solder fumes: air the room, wash hands, keep food away."
INSULATION = "Insulation of this age may be brittle, and old parts may hold materials that are harmful when disturbed."
MAINS_WORDS = re.compile(r"power supply|mains|transformer|\bpsu\b|motor", re.IGNORECASE)
HOT_WORDS = re.compile(r"regulator|heat ?sink|cement|wirewound|power resistor|\b[1-9]\d? ?W\b", re.IGNORECASE)
OLD = 1985


def has_mains(job: Job, board: str = "", module: str = "") -> bool:
    """Say whether a job, or one board or module of it, has to do with the mains."""
    named = [(b.id, b.title) for b in job.boards if not (board or module) or b.id == board]
    named += [(m.id, m.title) for m in job.modules if not (board or module) or m.id == module]
    return any(MAINS_WORDS.search(f"{i} {title}") for i, title in named)


def for_job(job: Job) -> list[str]:
    """Return the cautions that a whole job calls for."""
    kinds = " ".join(f"{p.kind} {p.value}" for b in job.boards for p in b.parts) + " ".join(
        f"{p.was} {p.was_rating}" for p in job.parts
    )
    mains = has_mains(job)
    asked = (
        (mains, MAINS),
        (mains, CHARGE),
        (bool(HOT_WORDS.search(kinds)), HOT),
        (any(p.action in ("replaced", "repaired", "added") for p in job.parts), SOLDER),
        (bool(job.instrument.year and job.instrument.year < OLD), INSULATION),
    )
    return [words for wanted, words in asked if wanted]


def for_part_of(job: Job, board: str = "", module: str = "") -> list[str]:
    """Return the cautions for work on one board or module: those of the mains, where it has to do with them."""
    return [MAINS, CHARGE] if (board or module) and has_mains(job, board, module) else []
