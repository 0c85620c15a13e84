"""A private value is found in whatever way it is spelt, split, escaped, encoded and packed."""

from __future__ import annotations

import base64
import gzip
import html
import io
import re
import zipfile
import zlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from random import Random
from urllib.parse import quote

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from matplotlib import rc_context
from PIL import Image, PngImagePlugin

from benchrecord.editions.traces import Trace
from benchrecord.publish.guarding.leaks import Leaks
from benchrecord.publish.guarding.private import Private
from benchrecord.publish.guarding.rule import InUse, Reach, Sought, in_use, sought
from benchrecord.publish.guarding.search import BETWEEN, Search
from benchrecord.publish.guarding.spellings import span_of, squeezed
from benchrecord.publish.guarding.unfolding import ESCAPES, LETTERS, RESOLVED, TAG, rows, without_tags
from publish.guarding.encodings import ENCODINGS

NAME = "Ottilie Marrenbach"
TELLS = Leaks(Private((Sought("owner: name", NAME, Reach.ANYWHERE),)))
LONG = Search([Sought("owner: name", NAME, Reach.ANYWHERE)])
WHOLE = Search([Sought("serial", "VP-613", Reach.WHOLE)])
BESIDE = Search(
    [Sought("price", "0.9", Reach.BESIDE, ("each", "price")), Sought("name", "Al", Reach.BESIDE, ("owner", "name"))]
)
SHOP = Search([Sought("supplier", "Parts", Reach.BESIDE, ("supplier", "from", "bought", "ordered"))])
SERIAL = Search([Sought("serial", "44", Reach.BESIDE, ("serial", "number", "no"))])
PLACE = Search([Sought("place", "51.501528 -0.124167", Reach.PLACE)])
DIGITS = Search([Sought("phone", "+00 555 0143", Reach.DIGITS)])


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
        (BESIDE, '<td data-label="Each">0.90</td>', True),
        (BESIDE, "the price is 0,9 EUR", True),
        (BESIDE, "0.9 each", True),
        (BESIDE, "0.9.– each", True),
        (BESIDE, "Price. 0.9", True),
        (BESIDE, "reads 0.9 V", False),
        (BESIDE, "It was 0.9. Each number can be traced.", False),
        (BESIDE, "<p>It was 0.9.</p><p>Each number can be traced.</p>", False),
        (BESIDE, "forEach(0.9)", False),
        (BESIDE, "price 0.95", False),
        (BESIDE, "price 10.9", False),
        (BESIDE, "<dt>Name</dt><dd>Al</dd>", True),
        (BESIDE, "a chassis of Al", False),
        (BESIDE, "Al, the owner", True),
        (BESIDE, "The name in full, and a chassis of Al", False),
        (SHOP, "bought from Parts", True),
        (SHOP, "SUPPLIER: PARTS", True),
        (SHOP, "its supplier is parts", True),
        (SHOP, '<td data-label="Supplier"><a href="x.html">Parts</a></td>', True),
        (SHOP, "taken from parts that were left", False),
        (SHOP, "Parts were ordered", False),
        (SHOP, "Parts from the loft", False),
        (SERIAL, "no. 44", True),
        (SERIAL, "serial number 44", True),
        (SERIAL, "Estuary 44. No sound", False),
        (SERIAL, "Estuary 44: no sound", False),
        (DIGITS, "call 00 555-0143", True),
        (DIGITS, "005550143", True),
        (DIGITS, "1005550143", False),
        (DIGITS, "0.005550143", False),
        (PLACE, "51.5015,-0.1241", True),
        (PLACE, "51°30'5.5\"N, 0°7'27\"W", True),
        (PLACE, "M51.501 7.1 L9 9", False),
    ],
)
def test_short_and_common_values_count_whole_and_with_what_stands_beside(search: Search, text: str, found: bool) -> None:  # noqa: FBT001  # the wanted answer
    for data in (text.encode(), html.escape(text).encode(), text.encode("utf-16")):
        assert bool(search.finds(data)) is found


USED = in_use(["A power supply, cleaned", "photos/front.jpg"], frozenset({"components", "something"}))


@pytest.mark.parametrize(
    ("value", "personal", "reach"),
    [
        ("Quayside Supplies", True, {Reach.ANYWHERE, Reach.WHOLE}),
        ("Components", True, {Reach.BESIDE}),  # a word of the look or of this program
        ("Al", True, {Reach.BESIDE}),
        ("Otto", True, {Reach.WHOLE}),
        ("A power supply", True, {Reach.ANYWHERE, Reach.WHOLE}),  # of a person: private even where a text says it
        ("A power supply", False, set()),
        ("cleaned", False, {Reach.BESIDE}),
        ("61.5", True, {Reach.BESIDE}),
        ("7", True, set()),
        ("+00 555 0143", True, {Reach.DIGITS}),
    ],
)
def test_the_rule_of_what_counts(value: str, personal: bool, reach: set[Reach]) -> None:  # noqa: FBT001  # of the trace
    assert {s.reach for s in sought([Trace("f", value, personal, ("beside",))], USED)} - {None} == (
        reach - ({Reach.BESIDE} if value == "cleaned" else set())
    )


@given(st.text(min_size=1, max_size=40), st.binary(max_size=200))
def test_any_value_and_any_bytes_can_be_searched_for(value: str, data: bytes) -> None:
    search = Search(sought([Trace("f", value, personal=True, beside=("word",))], InUse()))
    assert all(0 <= f.offset <= len(data) for f in search.finds(data))


@given(st.from_regex(r"[a-z]{5}[0-9]{4}[a-z]{3}", fullmatch=True), st.sampled_from([*ENCODINGS]), st.text(max_size=60))
def test_any_long_value_is_found_in_any_encoding_wherever_it_stands(value: str, name: str, around: str) -> None:
    """What stands before it is in the same encoding where that counts in more than bytes."""
    (thing,) = sought([Trace("f", value, personal=True)], InUse())
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


def is_between(written: bytes) -> bool:
    return written.isascii() and re.fullmatch(BETWEEN, b" " + written.lower() + b" ") is not None


@given(st.from_regex(BETWEEN, fullmatch=True).filter(is_between), st.booleans())
def test_a_number_is_found_directly_beside_its_word_whatever_stands_between(between: bytes, after: bool) -> None:  # noqa: FBT001  # the order
    pair = (b"price", between, b"0.9") if after else (b"0.9", between, b"price")
    assert BESIDE.finds(b" ".join((b"", *pair, b"")))


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
    search = Search([Sought("owner: name", "Jörgen Ångström", Reach.ANYWHERE), Sought("owner: name", NAME, Reach.ANYWHERE)])
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
    looked = Leaks(Private((Sought("supplier", "Rapp", Reach.WHOLE),)))
    assert [line.partition(" tells")[0] for line in looked.in_files([("x", told(b"Rapp"))])][-1].startswith("x!tags: byte 0")
    assert list(looked.in_files([("x", told(b"Rupp"))])) == []


def test_letters_that_chance_spells_among_pixels_are_no_name() -> None:
    search, dice = Search([Sought("supplier", "Rapp", Reach.WHOLE)]), np.random.default_rng(1)
    around = dice.bytes(5000)
    assert search.finds(around + b"\x01(Rapp)\x02" + around) == []
    assert search.finds(around + b"\x01as bought at Rapp in May\x02" + around)
