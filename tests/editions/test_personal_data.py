"""What looks like personal data is found in its many forms, and part numbers, dates and readings are not."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchrecord.editions.personal_data import Personal, finds

ROOT = Path(__file__).parents[2]
NAMES = ["Ottilie Marrenbach", "Lang", "Öztürk", "Петров", "O’Brien", "Anne-Marie Quill", "d’Arcy"]
PHONES = ["+49 30 1234567", "+49 (0)30 123 45 67", "+44 20 7946 0958", "0044 20 7946 0958", "(030) 123 45 67", "030/1234567", "0171 1234567", "01632 960 123", "07700 900123", "06 12 34 56 78", "(555) 123-4567", "555-123-4567", "+33 6 12 34 56 78"]  # fmt: skip
LABELLED = ["Tel.: 555 0143", "phone 0301234567", "phone +00 555 0143", "Telefon Nr. 5550143", "tél : 0612345678", "He rang from 0171-1234567", "fax 555-0143"]  # fmt: skip
EMAILS = ["zoe@marrenbach.example", "Zoe.M+x@mail.co.example", "zoe (at) marrenbach.example", "zoë@bücher.example"]
ADDRESSES = ["7 Sluice Lane", "12b, Old Mill Road", "Sonnenallee 12", "Hauptstraße 5a", "Kerkstraat 12", "12 rue de la Paix", "Calle Mayor, 12", "Birkenweg 3", "Kirchsteig 12, 83209 Hallbruck", "Am Anger 3a, CH-8000 Seeburg", "PO Box 117", "Postfach 1234"]  # fmt: skip
OWNED = ["It belongs to {}.", "Owner: {}", "owner is {}", "| Owner | {} |", "The owner, {}, rang.", "Property of {}", "brought in by {}", "Mr {} came.", "Frau {}", "Kunde: {}"]  # fmt: skip


def kinds_in(text: str, known: frozenset[str] = frozenset()) -> set[Personal]:
    return {find.kind for find in finds(text, known)}


CASES = [
    *((Personal.PHONE, text) for text in (*PHONES, *LABELLED)),
    *((Personal.EMAIL, text) for text in EMAILS),
    *((Personal.ADDRESS, text) for text in ADDRESSES),
    *((Personal.NAME, form.format(name)) for form in OWNED for name in NAMES if name[0].isupper()),
]


@pytest.mark.parametrize(("kind", "text"), CASES)
@pytest.mark.parametrize("around", ["{}", "First line.\n\nThen, on Monday ({}), it left.\n"])
def test_each_form_is_found_where_it_stands(kind: Personal, text: str, around: str) -> None:
    whole = around.format(text)
    found = [whole[find.start : find.end] for find in finds(whole, frozenset()) if find.kind is kind]
    assert found
    assert all(said in text for said in found)


@pytest.mark.parametrize(
    "text",
    [
        "+15 V at 13.42 V, -15 V at -11.87 V, and +5 V dead.",
        "Read 0.123456789 V, then 1.0000000001 Hz and +1.23456789.",
        "Sizes 0402 0603 0805 and 0402 0603 0805 1206.",
        "Stamped 7713, 7721 7734 7740; made 2026-02-03 and 03.02.2026, 03 02 2026.",
        "Serial 012 345 678; order code 595-200-1234; part 021-04567-01.",
        "Steps at 10 20 30 40 50 and 05 10 15 20 25 minutes; 01 02 03 04 05.",
        "44100 Hz, 48000 samples, 10000 hours, 100 000 000 ohm, +1 000 000 000.",
        "5V@1.5kHz and 10 mA @ 25 degrees.",
        "The knob belongs to the filter, R12 to psu and the lead to VCA 2.",
        "It belongs to Oscillator 2, the cord to Channel B.",
        "Agreed with the owner: Make it play. For the owner: Keep it dry.",
        "Owner: unknown. Owner: none. The owner asked for it. Owner's manual in the lid.",
        "Row 3, 2 Output Drive and 4 Filter Drive knobs, 5 Band Way, Spring 12, String 4.",
        "Pin 12, 4700 Ohm; Row 3, 10000 turns; IC 12, 4011 Gate; Pin 7, 1000 Hertz.",
        "Address bus A0 to A15; address: 0x3F. I2C address 0x20.",
        "J-2024-001, S-0123, VP-0613-K, SN 0417, TL-072CP, IC3 2N3904, C1 1NF.",
        "1:1000, 16/44.1, 20-20000 Hz, 0-10 V in 0.5 V steps, 10^-6, 1/12 octave.",
    ],
)
def test_technical_words_are_no_alarm(text: str) -> None:
    assert kinds_in(text) == set()


def test_what_names_the_instrument_is_nobody_s_name() -> None:
    assert kinds_in("It belongs to Varnholt & Pike's first series.") == {Personal.NAME}
    assert kinds_in("It belongs to Varnholt & Pike's first series.", frozenset({"varnholt", "pike"})) == set()


UNITS = ["V", "mV", "Hz", "kHz", "ohm", "kΩ", "µF", "dB", "%", "mA", "cents", "s", "ms", "°C"]


def technical_text(dice: random.Random) -> str:
    """Return a line of what benches write down: readings, parts, codes, dates, frequencies, ratios."""
    pieces = {
        "reading": lambda: (
            f"{dice.choice('+-')}{dice.uniform(0, 10 ** dice.randint(0, 6)):.{dice.randint(0, 8)}f} {dice.choice(UNITS)}"
        ),
        "part": lambda: (
            f"{dice.choice(['R', 'C', 'RV', 'IC', 'Q'])}{dice.randint(1, 999)} {dice.choice(['4k7', '100n', '2R2', '47 kohm'])}"
        ),
        "code": lambda: f"{dice.choice(['VP', 'S', 'TL', 'QC', 'J'])}-{dice.randint(0, 99999):05}-{dice.choice('KXA')}",
        "stamp": lambda: f"{dice.randint(65, 99)}{dice.randint(1, 52):02}",
        "day": lambda: f"{dice.randint(1970, 2030)}-{dice.randint(1, 12):02}-{dice.randint(1, 28):02}",
        "row": lambda: " ".join(f"{dice.uniform(0, 99):.{dice.randint(1, 4)}f}" for _ in range(dice.randint(2, 6))),
        "count": lambda: f"{dice.randint(1, 10**6)} {dice.choice(['turns', 'keys', 'samples', 'hours'])}",
    }
    return ", ".join(pieces[dice.choice([*pieces])]() for _ in range(dice.randint(1, 8)))


def test_of_a_thousand_technical_lines_none_is_an_alarm() -> None:
    dice = random.Random(11)  # noqa: S311  # texts, not secrets
    lines = [technical_text(dice) for _ in range(1000)]
    assert [(line, kinds_in(line)) for line in lines if kinds_in(line)] == []


@pytest.mark.parametrize("note", sorted(ROOT.glob("s*/**/*.md")), ids=lambda n: n.stem)
def test_nothing_of_the_demo_and_its_guide_is_an_alarm(note: Path) -> None:
    assert kinds_in(note.read_text("utf-8")) == set()


@given(st.text(alphabet="0123456789+-()/. @aZ\n:ÖMr", max_size=60))
def test_any_text_is_looked_through(text: str) -> None:
    assert all(0 <= find.start < find.end <= len(text) for find in finds(text, frozenset()))
