"""Canaries by a seeded generator: each private field, told in each spelling that a person may use, at each place of a site."""

from __future__ import annotations

import html
import json
import random
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from urllib.parse import quote

from attacks.ordinary import COMMON_FIRST, COMMON_LAST, FIRST, LAST, WIDE

PLAIN = str.maketrans("äö", "ao")
APOSTROPHES, DASHES, BLANKS = "'’‘ʼ`´", "-‐‑–—−", "\u00a0\u202f\u2009"
CURRENCIES = ["€{}", "{} €", "{}€", "{} EUR", "EUR {}", "CHF {}", "{} CHF", "Fr. {}", "${}", "$ {}", "USD {}", "£{}", "{} GBP", "{} kr", "SEK {}", "{} zł", "¥{}", "{} euros", "price {}.", "paid {} for it", "cost: {};"]  # fmt: skip
RATES = [
    "{} €/h",
    "€{} an hour",
    "{} an hour",
    "{} per hour",
    "{} EUR/h",
    "{}/h",
    "hourly rate {},",
    "Hourly rate: {}.",
    "CHF {} per hour",
]
SERIAL_WORDS = ["S/N {}", "SN {}", "S/N: {}", "serial {}", "Serial no. {}", "serial number {}", "Serial number: {}", "No. {}", "Nr. {}", "#{}", "its serial is {}", "SERIAL NUMBER {}"]  # fmt: skip
TITLES = ["Mr {}", "Mrs {}", "Ms {}", "Mr. {}", "mr {}", "the owner {}", "owner: {}", "for {}", "from {}", "our client, {},", "Herr {}", "Dr. {}", "{}, the owner,", "belongs to {}"]  # fmt: skip
PLACES: dict[str, Callable[[str], bytes]] = {
    "words": lambda t: f"<p>It was then that {t} was seen.</p>".encode(),
    "beginning": lambda t: f"<h2>{t}</h2>".encode(),
    "escaped words": lambda t: f"<p>And {html.escape(t)} as well</p>".encode("ascii", "xmlcharrefreplace"),
    "cell": lambda t: f"<tr><td>R1</td><td>{t}</td><td>10k</td></tr>".encode(),
    "attribute": lambda t: f'<img alt="{html.escape(t)}" src="a.webp">'.encode(),
    "JSON": lambda t: json.dumps({"text": f"one {t} two", "n": 3}).encode(),
    "JSON as it is": lambda t: json.dumps([t, 1], ensure_ascii=False).encode(),
    "CSV": lambda t: f"ref;note\nR1;{t}\nR2;\n".encode(),
    "SVG": lambda t: f"<svg><title>{html.escape(t)}</title><path d='M0 1 2 3'/></svg>".encode(),
    "script": lambda t: ("var a='" + "".join(c if c.isascii() and c != "'" else f"\\u{ord(c):04x}" for c in t) + "';").encode(),
    "address of the net": lambda t: f'<a href="x/{quote(t, safe="")}/#top">there</a>'.encode(),
    "tags between": lambda t: f"<p>and <b>{t[:1]}</b>{t[1:]} too</p>".encode(),
    "UTF-16": lambda t: f"And {t} too.".encode("utf-16"),
    "decomposed": lambda t: unicodedata.normalize("NFD", f"and {t} too").encode(),
}  # fmt: skip


@dataclass(frozen=True)
class Telling:
    """A text that tells a field of a job."""

    field: str
    text: str


@dataclass(frozen=True)
class Spelt:
    """A job with what is private in it, and texts that tell it."""

    files: dict[str, str]
    tellings: tuple[Telling, ...]


def spelt(seed: int) -> Spelt:
    """Return a job and texts that tell each of its private fields."""
    dice = random.Random(seed)  # noqa: S311  # the same at each run
    first, last = dice.choice(FIRST + COMMON_FIRST), dice.choice(LAST + COMMON_LAST)
    name = dice.choice(WIDE) if seed % 7 == 0 else f"{first} {last}"
    street, town = (
        dice.choice(["Sluice", "Müller", "Tower", "Łąka", "High", "Fontäne"]),
        dice.choice(["Harrowmere", "Þorlákshöfn", "Łódź", "Saint-Égrève"]),
    )
    supplier = dice.choice(
        ["Quayside Components", "Rapp", "Lötstelle", "Audio Parts", "Čapek & Söhne", "D’Arcy Supplies", "Rapid"]
    )
    serial = dice.choice(["VP-0613-K", f"{dice.randrange(1000):04d}", f"{dice.randrange(10**5)}", "A-221", "5501-2", f"{dice.randrange(10**6, 10**7)}"])  # fmt: skip
    serial = serial if len(serial) >= 4 else f"0{serial}00"[:4]
    local, digits = dice.choice(["zoë.m", "post", "o-b", "hello"]), f"{dice.randrange(10**6, 10**7)}"
    price, rate = dice.choice([14.0, 0.9, 3.25, 44.0, 1250.5, 2.0, 119.95]), dice.choice([55.0, 61.5, 48.0, 1100.0])
    email = f"{local}@{dice.choice(['marrenbach', 'kessel-ton', 'oe-audio'])}.example"
    code = dice.choice(["QC-7741-X", "595-TL072CP", "11 4417", "AB.12.34", "X_1002"])
    job = {
        "title": "Overhaul", "publish": True, "instrument": {"model": "Estuary", "serial": serial},
        "owner": {"name": name, "email": email, "phone": f"+49 30 {digits}", "address": f"12 {street} Lane, {town}"},
        "costs": {"currency": "EUR", "hourly_rate": rate},
    }  # fmt: skip
    tellings = [
        *(Telling("owner: name", t) for t in (*of_a_name(name), *_words_of_a_name(name))),
        *(Telling("owner: address", t) for t in (*of_a_name(f"12 {street} Lane"), *of_a_name(town), f"{street} Lane")),
        *(Telling("owner: email", t) for t in (email, email.upper(), email.replace("@", " at "), quote(email), f"mailto:{email}")),
        *(Telling("owner: phone", t) for t in _phones(digits)),
        *(Telling("instrument: serial", t) for t in _of_a_serial(serial)),
        *(Telling("part: supplier", t) for t in _of_a_supplier(supplier)),
        *(Telling("part: order code", t) for t in _of_a_code(code)),
        *(Telling("part: unit cost", form.format(t)) for form in CURRENCIES for t in _of_an_amount(price)),
        *(Telling("costs: hourly rate", form.format(t)) for form in RATES for t in _of_an_amount(rate)),
    ]  # fmt: skip
    parts = f'ref,action,now,supplier,order_code,unit_cost\nR1,replaced,10k,"{supplier}","{code}",{price}\n'
    return Spelt({"job.yml": json.dumps(job, ensure_ascii=False), "parts.csv": parts}, tuple(dict.fromkeys(tellings)))


def of_a_name(name: str) -> Iterator[str]:
    """Yield a name as a person may write it: in other letters, with other signs, in one piece."""
    yield from (name, name.upper(), unicodedata.normalize("NFD", name), name.replace(" ", "  "))
    if is_common(name):
        return
    yield from (
        name.lower(),
        name.replace(" ", "-"),
        name.replace(" ", "_").lower(),
        name.replace(" ", "."),
        name.replace(" ", ""),
    )
    yield from (name.replace(" ", blank) for blank in BLANKS)
    yield from (_changed(name, APOSTROPHES, one) for one in APOSTROPHES)
    yield from (_changed(name, DASHES, one) for one in DASHES)
    plain = name.translate(
        str.maketrans({"ß": "ss", "Ł": "L", "ł": "l", "ø": "o", "Đ": "D", "đ": "d", "ı": "i", "ð": "d", "Þ": "Th"})
    )
    yield "".join(c for c in unicodedata.normalize("NFD", plain) if not unicodedata.combining(c))
    if "Þ" not in name:
        yield (
            name.replace("ö", "oe")
            .replace("ü", "ue")
            .replace("ä", "ae")
            .replace("Ö", "Oe")
            .replace("ß", "ss")
            .replace("ø", "oe")
        )


def is_common(name: str) -> bool:
    """Say whether each word of a name is an ordinary one, or too short to tell anything."""
    return all(
        len(word) < 4 or word in {*COMMON_FIRST, *COMMON_LAST, "Audio", "Parts", "Rapid", "High", "Tower", "Lane", "12"}
        for word in name.split()
    )


def _words_of_a_name(name: str) -> Iterator[str]:
    for word in name.split():
        if word in COMMON_FIRST + COMMON_LAST and len(word) >= 4:
            yield from (title.format(word) for title in TITLES)
        elif word in ("Löwer", "Bäck"):
            yield from (word, word.upper(), word.lower(), f"{word}’s", f"Mr {word}", f"Mr {word.translate(PLAIN)}")
        elif word in ("Lang", "Kaiser") or "Al-" in word or "O’" in word or "D'" in word:
            yield from (f"Mr {word}", f"Mrs {word.upper()}")
        elif len(word) >= 4:
            yield from (
                word,
                word.upper(),
                word.lower(),
                f"{word}’s",
                f"{word}'s",
                *([] if word == "Clas" else [f"{word}s"]),
                f"Mr {word}",
                f"({word})",
                f"“{word}”",
                f"{word}-front",
            )


def _of_a_serial(serial: str) -> Iterator[str]:
    if not any(map(str.isalpha, serial)) and sum(map(str.isdigit, serial)) < 6:
        yield from (word.format(serial) for word in SERIAL_WORDS)
    else:
        yield from (serial, f"S/N {serial}", serial.lower(), serial.replace("-", ""), serial.replace("-", " "), f"({serial})")
        yield from (serial.replace("-", dash) for dash in DASHES)


def _of_a_supplier(supplier: str) -> Iterator[str]:
    if is_common(supplier):
        yield from (
            f"bought from {supplier}",
            f"supplier: {supplier}",
            f"Supplier {supplier.upper()}",
            f"ordered by {supplier}",
        )
    else:
        yield from of_a_name(supplier)


def _of_a_code(code: str) -> Iterator[str]:
    yield from (
        code,
        code.lower(),
        *(code.replace("-", dash) for dash in DASHES),
        code.replace("-", " "),
        code.replace("-", ""),
    )


def _phones(digits: str) -> Iterator[str]:
    groups = f"{digits[:3]} {digits[3:5]} {digits[5:]}"
    yield from (
        f"{before}{number}"
        for before in (
            "030 ",
            "030/",
            "030-",
            "030",
            "(030) ",
            "+49 30 ",
            "+4930",
            "0049 30 ",
            "+49 (0)30 ",
            "+49-30-",
            "+49 (0) 30 / ",
            "",
        )
        for number in (digits, groups, groups.replace(" ", "-"))
    )
    yield from (f"030.{digits[:3]}.{digits[3:]}", f"tel:+4930{digits}", f"030 – {digits}", f"030\u00a0{digits}")


def _of_an_amount(amount: float) -> Iterator[str]:
    yield from {f"{amount:g}", f"{amount:.2f}", f"{amount:.2f}".replace(".", ",")}
    if amount >= 1000:
        yield from (
            f"{amount:,.2f}",
            f"{amount:,.2f}".translate(str.maketrans(",.", ".,")),
            f"{amount:,.2f}".replace(",", "'"),
            f"{amount:,.2f}".replace(",", " "),
        )
    if amount == int(amount):
        yield from (f"{amount:.0f}.–", f"{amount:.0f},-")


def _changed(text: str, those: str, one: str) -> str:
    return "".join(one if c in those else c for c in text)
