"""Writing many job folders, such as a technician has after years: a few models, the same faults again and again, several suppliers."""

from __future__ import annotations

import random
from pathlib import Path

from folders import write

MAKERS = {"Varnholt & Pike": ("Estuary", "Skerry", "Holm"), "Ostermay": ("Loopwell", "Reed"), "Bellgarth": ("Tern",)}
KINDS = ("keyboard synthesizer", "tape echo", "string machine", "drum machine")
CAPACITORS = ("1u", "4u7", "10u", "22u", "47u", "100u", "220u", "470u", "1000u", "2200u", "100n", "22n", "4n7")
RESISTORS = tuple(f"{n}{letter}" for letter in "Rk" for n in (10, 15, 22, 27, 33, 47, 56, 68, 82, 100, 150, 220, 330, 470))
CHIPS = ("CX 41", "CX 60", "VP-OM2", "OM 11", "OM 12", "BG 7")
SUPPLIERS = ("Quayside Components", "Old Pier Semiconductors", "Harrowmere Turnery", "Lock & Weir")
SYMPTOMS = (
    "no sound at all",
    "hum on everything",
    "keys sag",
    "out of tune when warm",
    "crackles",
    "one note silent",
    "+15 V low",
)
CAUSES = ("dried out capacitor", "leaky capacitor", "drifted resistor", "failed chip", "oxidised contacts", "cracked joint")
BOARDS = ("psu", "tone", "voice")


def folders(root: Path, count: int, seed: int = 1) -> list[Path]:
    """Write ``count`` job folders; the same seed gives the same ones."""
    dice = random.Random(seed)  # noqa: S311  # jobs, not secrets
    return [write(root / f"job-{n:03}", _job(dice, n)) for n in range(count)]


def _job(dice: random.Random, number: int) -> dict[str, str | bytes]:
    maker = dice.choice(sorted(MAKERS))
    model = f"{dice.choice(MAKERS[maker])} {dice.randint(1, 9)}"
    year = 2010 + number // 15
    parts = [_part(dice, board, n) for board in BOARDS for n in range(1, 20)]
    return {
        "job.yml": (
            f"title: Overhaul\ninstrument: {{maker: {maker}, model: {model}, kind: {dice.choice(KINDS)}, year: 1977, serial: S-{number:04}}}\n"
            f"owner: {{name: Owner {number}}}\ncosts: {{currency: EUR, hourly_rate: 50}}\n"
            f"dates: {{received: {year}-02-03, returned: {year}-04-05, warranty_until: {year + 1}-04-05, next_service: {year + 5}-04}}\n"
        ),
        "notes/10-work.md": f"---\ntitle: Work\nhours: {dice.randint(4, 80) / 2}\n---\npsu:C1 was dry.\n",
        **{f"boards/{b}.csv": _board(dice) for b in BOARDS},
        "parts.csv": "board,ref,action,was,now,was_rating,now_rating,reason,supplier,order_code,unit_cost,obsolete\n" + "".join(parts),
        "faults.csv": "symptom,cause,board,ref,remedy,hours\n" + "".join(_fault(dice) for _ in range(12)),
        "date-codes.csv": "board,ref,code\n" + "".join(f"psu,C{n},77{dice.randint(1, 52):02}\n" for n in range(1, 7)),
    }  # fmt: skip


def _letters(number: int) -> str:
    return f"C{number}" if number <= 8 else f"R{number - 8}" if number <= 16 else f"U{number - 16}"


def _board(dice: random.Random) -> str:
    rows = (f"{_letters(n)},{dice.randint(5, 150)},{dice.randint(5, 90)},part\n" for n in range(1, 20))
    return "ref,x_mm,y_mm,kind\n" + "".join(rows)


def _part(dice: random.Random, board: str, number: int) -> str:
    ref = _letters(number)
    value = dice.choice({"C": CAPACITORS, "R": RESISTORS, "U": CHIPS}[ref[0]])
    code = f"{value.replace(' ', '')}-{dice.randint(1, 4)}"
    obsolete = "yes" if ref[0] == "U" and dice.random() < 0.5 else "no"
    bought = f"{dice.choice(SUPPLIERS)},{code},{dice.randint(5, 2000) / 100}"
    return f"{board},{ref},replaced,{value},{value},25 V,{dice.choice((25, 35, 50))} V,drifted,{bought},{obsolete}\n"


def _fault(dice: random.Random) -> str:
    remedy = "" if dice.random() < 0.03 else "replaced and set"
    words = f"{dice.choice(SYMPTOMS)}{dice.choice(('', ' at times', ' after an hour', ' on the left'))}"
    return f"{words},{dice.choice(CAUSES)},{dice.choice(BOARDS)},{_letters(dice.randint(1, 19))},{remedy},{dice.randint(1, 8) / 4}\n"
