"""A private value is found in whatever way it is spelt, split, escaped, encoded and packed."""

from __future__ import annotations

import base64
import gzip
import html
import io
import zipfile
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from random import Random
from urllib.parse import quote

import hyperscan
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from matplotlib import rc_context
from PIL import Image, PngImagePlugin

from benchrecord.editions.table import OWNER, SERIAL, SUPPLIER, Personal
from benchrecord.editions.traces import Trace
from benchrecord.publish.cache import Cache
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private
from benchrecord.publish.guarding.rule import Match, SearchTerm, search_terms
from benchrecord.publish.guarding.search import Search
from benchrecord.publish.guarding.spellings import span_of, squeezed
from benchrecord.publish.guarding.unfolding import ESCAPES, LETTERS, RESOLVED, TAG, rows, without_tags
from benchrecord.publish.guarding.vocabulary import Vocabulary, vocabulary
from publish.guarding.encodings import ENCODINGS

NAME = "Ottilie Marrenbach"
TELLS = Leaks(Private((SearchTerm("owner: name", NAME, Match.ANYWHERE),)))
LONG = Search([SearchTerm("owner: name", NAME, Match.ANYWHERE)])
WHOLE = Search([SearchTerm("serial", "VP-613", Match.WORD)])
PRICE, RATE = Search([SearchTerm("price", "14", Match.AMOUNT)]), Search([SearchTerm("rate", "1234.5", Match.AMOUNT)])
OWNED = Search([SearchTerm("name", "Rose", Match.KEYWORD, OWNER)])
SHOP = Search([SearchTerm("supplier", "Parts", Match.KEYWORD, SUPPLIER)])
NUMBERED = Search([SearchTerm("serial", "0417", Match.KEYWORD, SERIAL)])
SMALL = Search([SearchTerm("name", "Lang", Match.CAPITALS, OWNER)])
PHONE = Search([SearchTerm("phone", "+49 30 1234567", Match.DIGITS)])
PLACE = Search([SearchTerm("place", "51.501528 -0.124167", Match.PLACE)])
DIGITS = Search([SearchTerm("phone", "+00 555 0143", Match.DIGITS)])


def packed(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inner.txt", data)
    return out.getvalue()


def pictured(data: bytes) -> bytes:
    out, told = io.BytesIO(), PngImagePlugin.PngInfo()
    told.add_text("Comment", data.decode() + " " * 100, zip=True)
    Image.new("L", (8, 8)).save(out, "PNG", pnginfo=told)
    return out.getvalue()


def printed(data: bytes) -> bytes:
    from pypdf import PdfWriter  # noqa: PLC0415  # only here

    writer, out = PdfWriter(), io.BytesIO()
    writer.add_blank_page(100, 100)
    writer.add_metadata({"/Author": data.decode()})
    writer.compress_identical_objects()
    writer.write(out)
    return out.getvalue()


def told_in_a_pdf(told: str, *, attached: bytes = b"", opens_with: str | None = None) -> bytes:
    """Return a PDF of one page that tells something in its facts; one that opens with no letter is locked all the same."""
    from pypdf import PdfWriter  # noqa: PLC0415  # only here

    writer, out = PdfWriter(), io.BytesIO()
    writer.add_blank_page(100, 100)
    writer.add_metadata({"/Manager": told})
    if attached:
        writer.add_attachment("letter.txt", attached)
    if opens_with is not None:
        writer.encrypt(opens_with, "of the owner", algorithm="AES-256")
    writer.write(out)
    return out.getvalue()


def set_in_type(told: str) -> bytes:
    """Return a PDF whose words are coded by its font: drawn by matplotlib, with the letters that it needs alone."""
    from matplotlib.figure import Figure  # noqa: PLC0415  # only here

    figure, out = Figure(), io.BytesIO()
    figure.text(0.1, 0.5, told, fontfamily="DejaVu Sans")
    with rc_context({"pdf.fonttype": 42}):
        figure.savefig(out, format="pdf")
    return out.getvalue()


CONTAINERS: dict[str, Callable[[bytes], bytes]] = {
    "ZIP": packed,
    "ZIP in ZIP": lambda d: packed(packed(d)),
    "gzip": gzip.compress,
    "PNG, packed text": pictured,
    "PDF, facts": printed,
    "PDF, a fact of another name": lambda d: told_in_a_pdf(d.decode()),
    "PDF, attached": lambda d: told_in_a_pdf("x", attached=d),
    "PDF, locked, which opens": lambda d: told_in_a_pdf(d.decode(), opens_with=""),
    "PDF, locked, attached": lambda d: told_in_a_pdf("x", attached=d, opens_with=""),
    "PDF, set in type": lambda d: set_in_type(d.decode()),
    "PDF, split by a line": lambda d: set_in_type(d.decode().replace("renb", "ren-\nb")),
    "PDF, packed stream": lambda d: printed(b"x") + b"\n9 0 obj <</Length 1>> stream\n" + zlib.compress(d) + b"\nendstream",
    "picture in a data address": lambda d: b'<img src="data:image/png;base64,' + base64.b64encode(pictured(d)) + b'">',
    "among pixels": lambda d: bytes(range(256)) * 20 + d + bytes(range(256)) * 20,
}


@pytest.mark.parametrize("encoded", ENCODINGS.values(), ids=ENCODINGS)
def test_it_is_found_in_each_encoding(encoded: Callable[[str], bytes]) -> None:
    data = b"something before. " + encoded(NAME) + b" and after it"
    (find,) = LONG.finds(data)
    assert find.field == "owner: name"
    assert 0 <= find.offset - len(b"something before. ") <= 16
    assert LONG.finds(b"something before. " + encoded("Ottokar Marrowfield") + b" and after it") == []


@pytest.mark.parametrize("container", CONTAINERS.values(), ids=CONTAINERS)
def test_it_is_found_in_each_container(container: Callable[[bytes], bytes]) -> None:
    found = list(TELLS.in_files([("x", container(NAME.encode()))]))
    assert found
    assert all("tells owner: name" in line for line in found)
    assert list(TELLS.in_files([("x", container(b"Nobody by that name here"))])) == []


def test_it_is_found_in_the_name_of_a_file() -> None:
    names = ["jobs/index.html", "jobs/ottilie-marrenbach/x.html", "jobs/ottilie", "marrenbach"]
    assert list(TELLS.in_files([(name, b"") for name in names])) == [
        "jobs/ottilie-marrenbach/x.html: the name of it tells owner: name"
    ]


@pytest.mark.parametrize(
    "data",
    [packed(b"x" * 9)[:-30], b"\x1f\x8b\x08nothing", b"%PDF-1.7 broken", told_in_a_pdf("x", opens_with="secret")],
    ids=["zip", "gzip", "pdf", "locked pdf"],
)
def test_what_nobody_can_look_into_is_no_site(data: bytes) -> None:
    (line,) = Leaks(Private()).in_files([("x", data)])
    assert "nobody can say what is in it" in line


@pytest.mark.parametrize(
    ("search", "text", "found"),
    [
        (WHOLE, "serial VP-613.", True),
        (WHOLE, "(vp 613)", True),
        (WHOLE, "VP613", True),
        (WHOLE, "XVP-613", False),
        (WHOLE, "VP-6131", False),
        (WHOLE, "“VP-613”", True),
        (PRICE, "€14.00", True),
        (PRICE, "14.00 CHF", True),
        (PRICE, "14 € each", True),
        (PRICE, "14,- EUR", True),
        (PRICE, "EUR 14", True),
        (PRICE, "14 an hour", True),
        (PRICE, "14/h", True),
        (PRICE, "14 €/h", True),
        (PRICE, "paid 14.00 for it", True),
        (PRICE, "Price: 14", True),
        (PRICE, '<td data-label="Each">14.00</td>', True),
        (PRICE, "<dt>Price</dt><dd>14.00</dd>", True),
        (PRICE, "each of 14 keys", False),
        (PRICE, "it costs 14 mA", False),
        (PRICE, "the price of 14 keys", False),
        (PRICE, "a rate of 14 kHz", False),
        (PRICE, "€140", False),
        (PRICE, "€1.14", False),
        (PRICE, "14 Sek.", False),
        (PRICE, "14 kroner", False),
        (PRICE, "14 per h. and 14 keys", True),
        (PRICE, "R14 EUR", False),
        (RATE, "1,234.50 USD", True),
        (RATE, "CHF 1'234.50", True),
        (RATE, "1.234,5 €", True),
        (RATE, "$ 1 234.50", True),
        (RATE, "234.50 USD", False),
        (OWNED, "Mr Rose", True),
        (OWNED, "mr rose", True),
        (OWNED, "for Rose", True),
        (OWNED, "the owner is Rose", True),
        (OWNED, "Rose, the owner,", True),
        (OWNED, '{"owner": {"name": "Rose"}}', True),
        (OWNED, "<dt>Owner</dt><dd>Rose</dd>", True),
        (OWNED, "for rose", False),
        (OWNED, "Rose and knob cleaned", False),
        (OWNED, "the owner's rose", False),
        (OWNED, "10 ms rose", False),
        (OWNED, "the rose, the owner said", False),
        (SMALL, "Lang came", True),
        (SMALL, "LANG", True),
        (SMALL, "mr lang", True),
        (SMALL, '<p lang="en">', False),
        (SMALL, "Langley", False),
        (SHOP, "bought from Parts", True),
        (SHOP, "SUPPLIER: PARTS", True),
        (SHOP, '<td data-label="Supplier"><a href="x.html">Parts</a></td>', True),
        (SHOP, "taken from parts that were left", False),
        (SHOP, "Parts were ordered", False),
        (SHOP, "Parts from the loft", False),
        (NUMBERED, "S/N 0417", True),
        (NUMBERED, "SN0417", True),
        (NUMBERED, "serial number 0417", True),
        (NUMBERED, "No. 0417", True),
        (NUMBERED, "(#0417)", True),
        (NUMBERED, "<dt>Serial number</dt><dd>0417</dd>", True),
        (NUMBERED, "stamped 0417", False),
        (NUMBERED, "no 0417 inside", False),
        (NUMBERED, "S/N 04170", False),
        (PHONE, "030 1234567", True),
        (PHONE, "(030) 123 45 67", True),
        (PHONE, "030.123.4567", True),
        (PHONE, "0049 30 1234567", True),
        (PHONE, "+49 (0)30 / 12345-67", True),
        (PHONE, "tel:+49301234567", True),
        (PHONE, "030–1234567", True),
        (PHONE, "123 4567", True),
        (PHONE, "91234567", False),
        (PHONE, "12345678", False),
        (PHONE, "123.4567", False),
        (PHONE, "0.1234567", False),
        (DIGITS, "call 00 555-0143", True),
        (DIGITS, "005550143", True),
        (DIGITS, "1005550143", False),
        (DIGITS, "0.005550143", False),
        (PLACE, "51.5015,-0.1241", True),
        (PLACE, "51°30'5.5\"N, 0°7'27\"W", True),
        (PLACE, "M51.501 7.1 L9 9", False),
    ],
)
def test_what_counts_by_what_stands_around_it(search: Search, text: str, found: bool) -> None:  # noqa: FBT001  # the wanted answer
    for data in (text.encode(), html.escape(text).encode(), text.encode("utf-16")):
        assert bool(search.finds(data)) is found


@pytest.mark.parametrize("between", [", ", " and ", " or ", "; ", "/", " at first, then "])
@pytest.mark.parametrize("other", ["9 EUR", "9.50 €", "€ 9", "CHF 12", "14 an hour"])
def test_an_amount_right_behind_another_is_found(between: str, other: str) -> None:
    search = Search([SearchTerm("price", "3.25", Match.AMOUNT)])
    assert search.finds(f"It was {other}{between}3.25 EUR.".encode())
    assert search.finds(f"It was 3.25 EUR{between}{other}.".encode())
    assert not search.finds(f"It was {other}{between}4.25 EUR.".encode())


KNOWN = vocabulary(
    ["A power supply, cleaned", "photos/front.jpg"], known=["TL072", "Harrowmere"], own=frozenset({"lang", "Kaiser"})
)
NAME_, CODE, AMOUNT = Personal


@pytest.mark.parametrize(
    ("value", "kind", "found"),
    [
        ("Emre Öztürk", NAME_, {"Emre Öztürk": Match.ANYWHERE, "Emre": Match.WORD, "Öztürk": Match.WORD, "Oeztuerk": Match.WORD}),
        ("Ann Lang", NAME_, {"Ann Lang": Match.CAPITALS, "Lang": Match.CAPITALS}),  # an attribute of HTML
        ("Rose Kaiser", NAME_, {"Rose Kaiser": Match.CAPITALS, "Rose": Match.KEYWORD, "Kaiser": Match.KEYWORD}),
        ("12 High Street, Harrowmere", NAME_, {"12 High Street, Harrowmere": Match.ANYWHERE, "12 High Street": Match.CAPITALS, "High Street": Match.CAPITALS, "High": Match.KEYWORD, "Street": Match.KEYWORD}),
        ("王伟", NAME_, {"王伟": Match.WORD}),
        ("Al", NAME_, {}),
        ("Own stock", NAME_, {}),  # nobody's name
        ("unknown", NAME_, {}),
        ("Components", NAME_, {"Components": Match.KEYWORD}),
        ("TL072", CODE, {}),  # what a part is called is no secret
        ("TL072-ND", CODE, {"TL072-ND": Match.WORD}),
        ("VP-44", CODE, {"VP-44": Match.WORD}),
        ("123", CODE, {}),
        ("0417", CODE, {"0417": Match.KEYWORD}),
        ("+00 555 0143", CODE, {"+00 555 0143": Match.DIGITS}),
        ("61.5", AMOUNT, {"61.5": Match.AMOUNT}),
        ("A power supply", None, {}),
        ("cleaned", None, {}),
        ("Otto", None, {"Otto": Match.WORD}),
    ],
)  # fmt: skip
def test_the_rule_of_what_counts(value: str, kind: Personal | None, found: dict[str, Match]) -> None:
    terms = search_terms([Trace("f", value, kind, ("keyword",))], KNOWN)
    genitives = {f"{word}s" for word in value.replace(",", "").split()}
    assert {t.value: t.match for t in terms if t.value not in genitives} == found


@given(st.text(min_size=1, max_size=40), st.binary(max_size=200))
def test_any_value_and_any_bytes_can_be_searched_for(value: str, data: bytes) -> None:
    search = Search(search_terms([Trace("f", value, Personal.NAME, ("word",))], Vocabulary()))
    assert all(0 <= f.offset <= len(data) for f in search.finds(data))


@given(st.from_regex(r"[a-z]{5}[0-9]{4}[a-z]{3}", fullmatch=True), st.sampled_from([*ENCODINGS]), st.text(max_size=60))
def test_any_long_value_is_found_in_any_encoding_wherever_it_stands(value: str, name: str, around: str) -> None:
    """What stands before it is in the same encoding where that counts in more than bytes."""
    (thing,) = search_terms([Trace("f", value, Personal.CODE)], Vocabulary())
    before = b"" if name.startswith(("utf-", "base64", "hex")) else quote(around).encode() + b" "
    assert Search([thing]).finds(before + ENCODINGS[name](value) + b" ")


@given(st.binary(max_size=60), st.data())
def test_letters_and_digits_alone_are_traced_back_to_the_bytes(data: bytes, drawn: st.DataObject) -> None:
    bare = squeezed(data)
    start = drawn.draw(st.integers(0, max(0, len(bare) - 1)))
    end = drawn.draw(st.integers(start + 1, max(start + 1, len(bare))))
    if end <= len(bare):
        first, last = span_of(data, start, end)
        assert squeezed(data[first:last]) == bare[start:end]
        assert len(squeezed(data[first : first + 1])) == len(squeezed(data[last - 1 : last])) == 1


ESCAPED = st.lists(
    st.one_of(*(st.from_regex(p.pattern, fullmatch=True) for p, _ in RESOLVED), st.binary(max_size=4), st.just(b"\\")),
    max_size=8,
).map(b"".join)


@given(ESCAPED)
def test_no_escape_goes_unnoticed(data: bytes) -> None:
    """What is left as it is has none that means anything, so that nothing is read in fewer ways for its speed."""
    standing = {number for number, (pattern, _) in enumerate(RESOLVED) if pattern.search(data)}
    assert standing <= set(ESCAPES.there(data))


NO_ESCAPES = {"split by tags", "split by soft hyphens", "split by marks of no width"}


@pytest.mark.parametrize("name", sorted(ENCODINGS.keys() - NO_ESCAPES))
def test_it_is_found_in_each_encoding_among_bytes_that_are_no_text(name: str) -> None:
    around = bytes(range(256)) * 20
    (find,) = LONG.finds(around + b"<li>" + ENCODINGS[name](NAME) + b"</li>" + around)
    assert 0 <= find.offset - len(around) <= 20


@given(st.binary(max_size=300), st.lists(st.from_regex(rb"[0-9A-Za-z]{8,12}", fullmatch=True), max_size=3), st.randoms())
def test_no_value_of_ascii_stands_elsewhere_than_in_rows(noise: bytes, values: list[bytes], random: Random) -> None:
    pieces = [b"".join(bytes([c]) + b" \n<-\x01"[: random.randrange(5)] for c in value) for value in values]
    data = b"".join(noise[: random.randrange(len(noise) + 1)] + piece for piece in pieces) + noise
    bare = squeezed(data.replace(b"\0", b""))
    told = {bare[at : at + LETTERS] for at in range(len(bare) - LETTERS + 1)}
    assert {t for t in told if t.isascii()} <= {s[a : a + LETTERS] for s in [squeezed(rows(data))] for a in range(len(s))}


def test_values_beyond_ascii_are_found_among_bytes_that_are_no_text() -> None:
    around = bytes(range(256)) * 20
    search = Search(
        [SearchTerm("owner: name", "Jörgen Ångström", Match.ANYWHERE), SearchTerm("owner: name", NAME, Match.ANYWHERE)]
    )
    for written in ("Jörgen Ångström".encode("utf-16-le"), "JÖRGEN ÅNGSTRÖM".encode(), "Jörgen-Ångström".encode("cp1252")):
        assert search.finds(around + written + around)


@given(
    st.lists(
        st.sampled_from([b"<", b">", b"</", b"<b>", b"<!--", b"<3", b"<?x", b"p", b"7", b" ", b"\xc3\xa9"]), max_size=30
    ).map(b"".join)
)
def test_tags_are_taken_out_alike_whether_they_are_many_or_few(data: bytes) -> None:
    few = data.replace(b"<!--", b"<!-") + b" " * 9999
    assert without_tags(few) == TAG.sub(b"", few)
    assert without_tags(data) == TAG.sub(b"", data.replace(b"<!--", b""))


@pytest.mark.parametrize("blanks", [1, 900, 1100, 9000])
@pytest.mark.parametrize("tail", [b"Marr&#101;nbach", b"Marr<b>enbach</b>", b"<i class=x>Marrenbach</i>", b"Marr&#60;b>enbach"])
def test_it_is_found_in_a_long_text_however_far_its_words_stand_apart(blanks: int, tail: bytes) -> None:
    """Where escapes and tags are few, only what stands around them is read without them."""
    around = b"Nothing of that kind is said here. " * 2000
    (find,) = LONG.finds(around + b"Ottilie" + b" " * blanks + tail + around)
    assert find.offset == len(around)
    assert LONG.finds(around + b"Ottilie" + b" " * blanks + tail[:-6] + around) == []


def test_two_builds_of_one_process_may_search_at_once() -> None:
    text = b"a few words without any escape, " * 20_000 + b"and one&amp;"
    with ThreadPoolExecutor(4) as builds:
        found = list(builds.map(lambda _: len(ESCAPES.there(text)), range(200)))
    assert set(found) == {found[0]}
    assert found[0] > 0


def tagged(data: bytes) -> bytes:
    out, told = io.BytesIO(), Image.Exif()
    told[0x010E] = data.decode()
    Image.effect_noise((64, 64), 100).convert("RGB").save(out, "WEBP", exif=told)
    return out.getvalue()


def titled(data: bytes) -> bytes:
    out = io.BytesIO()
    with soundfile.SoundFile(out, "w", 8000, 1, format="FLAC") as file:
        file.title = data.decode()
        file.write(np.random.default_rng(1).normal(0, 0.1, 8000))
    return out.getvalue()


@pytest.mark.parametrize("told", [tagged, titled])
def test_a_short_name_is_found_in_the_tags_of_pictures_and_sounds(told: Callable[[bytes], bytes]) -> None:
    looked = Leaks(Private((SearchTerm("supplier", "Rapp", Match.WORD),)))
    assert [line.partition(" tells")[0] for line in looked.in_files([("x", told(b"Rapp"))])][-1].startswith("x!tags: byte 0")
    assert list(looked.in_files([("x", told(b"Rupp"))])) == []


def test_letters_that_chance_spells_among_pixels_are_no_name() -> None:
    search, dice = Search([SearchTerm("supplier", "Rapp", Match.WORD)]), np.random.default_rng(1)
    around = dice.bytes(5000)
    assert search.finds(around + b"\x01(Rapp)\x02" + around) == []
    assert search.finds(around + b"\x01as bought at Rapp in May\x02" + around)


def test_an_amount_that_chance_spells_in_a_recording_is_no_price() -> None:
    """The beginning of a recording may look like a text: its tags, and silence packed as bytes that are all alike."""
    search, head = Search([SearchTerm("part", str(n), Match.AMOUNT) for n in range(10)]), b"fLaC reference" + b"\xff" * 1500
    assert search.finds(head + np.random.default_rng(1).bytes(200_000)) == []
    assert search.finds(head + "9 € each, ".encode() * 20_000)


def test_a_search_is_compiled_once_and_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is kept finds the same; what another processor or another version compiled is compiled here once more."""
    cache, terms = (
        Cache(tmp_path),
        [SearchTerm("name", "Anna Löwenmaul", Match.ANYWHERE), SearchTerm("supplier", "Rapp", Match.WORD)],
    )
    data = "bought at Rapp for anna löwenmaul".encode()
    found = Search(terms, cache).finds(data)
    assert {find.field for find in found} == {"name", "supplier"}
    with monkeypatch.context() as patch:
        patch.setattr(hyperscan, "Database", None)
        assert Search(terms, cache).finds(data) == found
    for entry in tmp_path.rglob("*/*"):
        entry.unlink()
    with monkeypatch.context() as patch:
        patch.setattr(hyperscan, "dumpb", lambda _: b"of another processor")
        Search(terms, cache)
    assert Search(terms, cache).finds(data) == found


@pytest.mark.parametrize("value", ["0" * 21, "1" * 27, "12345678901234567890" * 4, "0 " * 40, "+49 30 " + "0" * 30])
@pytest.mark.parametrize("kind", [Personal.NAME, Personal.CODE])
def test_a_number_of_very_many_figures_is_searched_for(value: str, kind: Personal) -> None:
    search = Search(search_terms([Trace("serial number", value, kind)], Vocabulary()))
    assert search.finds(f"its number is {value.strip()}, as found".encode())
    assert search.finds(b"its number is 417, as found") == []
