"""Ordinary jobs by a seeded generator: names of many languages, short ones and common words, and texts full of the same numbers and words.

Nothing of a job that is private is told in its texts: a price stands there as a number of keys, a rate as one of hertz, and a family
called Board or Stone beside boards and stones.
"""

from __future__ import annotations

import json
import random
import unicodedata
from dataclasses import dataclass

FIRST = ["Ottilie", "Emre", "Ayşe", "Łukasz", "Žofia", "Søren", "Jürgen", "François", "Núria", "João", "Giulia", "Олег", "Ирина", "Γιώργος", "Ελένη", "محمد", "ליאת", "राजेश", "Ngọc", "Anna", "Otto", "Ed", "Max", "Jo", "Sam", "Ida", "Regula", "Jens", "Dean"]  # fmt: skip
LAST = ["Öztürk", "Петров", "Παπαδόπουλος", "الحداد", "O’Brien", "D'Angelo", "van der Berg", "von Stein", "Lang", "Kern", "Voss", "Nagy", "Novák", "Müller", "Strauß", "Groß", "Łuczak", "Đurić", "Yılmaz", "Bjørnstad", "Virtanen", "Nguyễn", "de la Cruz", "Al-Farsi", "Clas", "Kaiser", "Löwer", "Bäck", "Ng", "Li"]  # fmt: skip
COMMON_FIRST = ["Rose", "Will", "Grace", "Mark", "Bill", "Ray", "Jack", "Art", "June", "Frank", "May", "Pat", "Rob", "Dawn", "Summer"]  # fmt: skip
COMMON_LAST = ["Field", "Board", "Note", "Case", "Power", "Light", "Voice", "Plug", "Stone", "Brown", "Wood", "Bell", "Sharp", "Young", "Long", "Key", "Winter", "Glass", "Cross", "Ring", "Point", "Reed", "Rust", "Low", "Trim", "Search", "Home", "Line"]  # fmt: skip
WIDE = ["王伟", "李小龍", "山田太郎", "김민준", "佐藤 花子"]
FIRMS = ["Studio {}", "{} & Sons", "{}", "Familie {}", "The {} Collection"]
TOWNS = ["Harrowmere", "Tonefield", "Köln", "Graz", "Ashby", "Note", "Kirchberg", "Łódź", "Lyon"]
STREETS = ["{} Main Board Road", "{} High Street", "Key Lane {}", "{} The Green", "Torstraße {}", "Hauptstr. {}", "{} rue des Lilas", "Unit {}, Old Mill"]  # fmt: skip
SUPPLIERS = ["Parts", "Audio", "Online", "stock", "unknown", "the drawer", "Own stock", "donor board", "Rapid", "Main Electronics", "Spares & Co", "R.S.", "Audio Parts", "Electron", "Quayside Components", "Rapp", "Kondensator Müller", "a friend", "Circuit Supply", "Junk box", "Lötstelle"]  # fmt: skip
SERIALS = ["1", "12", "44", "123", "1977", "A1", "R12", "0012", "0417", "VP-44", "10000", "2-113", "2200", "4700", "S-0123", "11 0417", "B 12345"]  # fmt: skip
TYPES = ["TL072", "1N4148", "BC547", "4K7", "100n", "10k", "E12", "CD4013", "2N3904", "22", "R-100", "1000", "TL072CP"]
PRICES = [0.5, 1, 1.5, 2, 3.3, 4.7, 10, 12, 14, 15, 22, 24, 44, 47, 100, 0.42, 1.25, 2.2, 3.25, 33, 440]
RATES = [38.5, 40, 44, 44.1, 48, 50, 55, 60, 75, 96, 100]
OF_A_NUMBER = [
    "Each of {n} keys was cleaned.", "There are {n} screws, each with a new washer.", "The LFO rate is {n} Hz.", "LFO rate {n} Hz, as found.",
    "Recorded at a sample rate of {n} kHz.", "It drifts {n} cents an hour.", "After {n} hours it was still.", "Reads {n} V with no load, {n} mA at most.",
    "It costs {n} mA of current and {n} ms of time.", "Pin {n} was loose.", "A total of {n} contacts, {n} of them high.", "The price of {n} steps is {n} dB of noise.",
    "{n} parts in all; the sum of {n} and 3.", "It is {n} % louder.", "Weighs {n} pounds, {n} with its case.", "At a rate of {n} V/s it slews.",
    "| part | each |\n|---|---|\n| screws | {n} mm |\n", "The hourly drift was {n} cents.", "Key {n}. Each was tried.", "Set to {n}, cost what it may.", "{n} Sek. long.",
]  # fmt: skip
OF_A_SERIAL = [
    "There were no {s} parts inside.",
    "Stamped {s} on one chip.",
    "Read {s} Hz on the counter.",
    "In {s}, number one was broken.",
    "{s} ohm, nominally.",
]
OF_A_WORD = ["The {w} was dirty.", "{W} and knob cleaned.", "Left {w}, right {w}; no {w} was broken.", "{W}, then the rest.", "On the panel it says {U}.", "A loose {w}. {W} first."]  # fmt: skip
OF_A_PHRASE = ["As with any {p}, it takes time.", "It is a {p} of the old kind."]


@dataclass(frozen=True)
class Ordinary:
    """A job: its private values, and the files of its folder."""

    owner: str
    files: dict[str, str]


def owner_of(dice: random.Random) -> str:
    """Return a name: of any language, of common words, of one word, of a firm, or short."""
    kind = dice.randrange(8)
    if kind == 0:
        return dice.choice(WIDE)
    if kind <= 3:
        return f"{dice.choice(COMMON_FIRST)} {dice.choice(COMMON_LAST)}"
    if kind == 4:
        return dice.choice(FIRMS).format(dice.choice(COMMON_LAST + LAST))
    if kind == 5:
        return dice.choice(COMMON_FIRST + LAST)
    return f"{dice.choice(FIRST)} {dice.choice(LAST + COMMON_LAST)}"


def ordinary_job(seed: int) -> Ordinary:
    """Return an ordinary job."""
    dice = random.Random(seed)  # noqa: S311  # the same at each run
    owner, town = owner_of(dice), dice.choice(TOWNS)
    serial, rate, prices = dice.choice(SERIALS), dice.choice(RATES), dice.sample(PRICES, 4)
    technician = {"name": f"Corvin {dice.choice([owner.split()[-1], 'Hathersedge'])}", "address": f"The Old Ropewalk, {town}"}
    job = {
        "title": "Overhaul",
        "publish": True,
        "instrument": {"maker": "Varnholt", "model": "Estuary", "year": 1977, "serial": serial},
        "owner": {"name": owner, "phone": f"+49 30 {dice.randrange(10**6, 10**7)}", "address": f"{dice.choice(STREETS).format(dice.randrange(1, 99))}, {town}"},
        "technician": technician,
        "costs": {"currency": dice.choice(["EUR", "CHF", "USD", "SEK"]), "hourly_rate": rate},
    }  # fmt: skip
    rows = [
        f'R{n},replaced,{dice.choice(TYPES)},"{dice.choice(SUPPLIERS)}",{dice.choice(TYPES)},{price}'
        for n, price in enumerate(prices, 1)
    ]
    notes = [_text(dice, owner, serial, [rate, *prices]) for _ in range(3)]
    return Ordinary(
        owner,
        {
            "job.yml": json.dumps(job, ensure_ascii=False),
            "parts.csv": "ref,action,now,supplier,order_code,unit_cost\n" + "\n".join(rows) + "\n",
            "checks.yml": "- {id: rails, title: Rails, kind: readings, file: rails.csv}\n",
            "measurements/rails.csv": "item,nominal,unit,as_found,as_left\n" + "".join(f"rail {n},{p:g},V,{p * 0.9:.3f},{p:g}\n" for n, p in enumerate([rate, *prices], 1)),
            **{f"notes/{n}0-day.md": f"---\ntitle: Day {n}\nhours: {dice.choice([0.5, 1.25, 2.5])}\n---\n{text}\n" for n, text in enumerate(notes, 1)},
        },
    )  # fmt: skip


def without_accents(text: str) -> str:
    """Return a text as it is typed where there are no accents."""
    return "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c))


def _text(dice: random.Random, owner: str, serial: str, numbers: list[float]) -> str:
    words = [w for w in without_accents(owner).split() if w in [*COMMON_FIRST, *COMMON_LAST, "Lower", "Back"]] or ["Board"]
    told = [dice.choice(OF_A_NUMBER).format(n=f"{dice.choice(numbers):g}") for _ in range(5)]
    told += [dice.choice(OF_A_NUMBER).format(n=f"{dice.choice(numbers):.2f}")]
    told += [dice.choice(OF_A_WORD).format(w=w.lower(), W=w, U=w.upper()) for w in words]
    if serial.isdigit():
        told.append(dice.choice(OF_A_SERIAL).format(s=serial))
    if len(words) > 1:
        told.append(dice.choice(OF_A_PHRASE).format(p=" ".join(words).lower()))
    dice.shuffle(told)
    return "\n\n".join(told)
