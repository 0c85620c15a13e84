"""Colour profiles of originals: every colour comes out the same, and nothing but the numbers for it is left."""

from __future__ import annotations

import io
import json
import re
import shutil
import struct
import subprocess
from collections.abc import Mapping
from importlib.resources import files
from math import prod
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from benchrecord.figures.colour import DISPLAY_P3, POWER_CURVE, SRGB_CURVE, rgb_profile
from benchrecord.figures.photo import for_print, publishable
from benchrecord.record.bare_pictures import bare_picture
from benchrecord.record.colour_profile import plain_profile
from pictures import corners, encoded

SECRET = b"EIZO-SN-77041988"  # as no other bytes spell it
# What a profile of a picture may hold: ICC.1:2022, section 9 (colours alone), and the two texts that section 8.2 asks for.
ALLOWED = {
    *(f"{way}{n}" for way in ("A2B", "B2A") for n in range(3)), *(f"{c}{what}" for c in "rgb" for what in ("XYZ", "TRC")),
    "kTRC", "wtpt", "bkpt", "chad", "cicp", "gamt", "desc", "cprt",
}  # fmt: skip
PRIVATE = ("vcgt", "mmod", "ndin", "dscm", "meta", "arts", "DevD", "CIED", "Pmtr", "aarg", "lumi", "targ", "tech", "view", "vued", "dmnd", "dmdd", "calt", "pseq", "psid", "zzzz")  # fmt: skip


def tags_of(profile: bytes) -> dict[str, tuple[int, int]]:
    (count,) = struct.unpack_from(">I", profile, 128)
    rows = (struct.unpack_from(">4sII", profile, 132 + 12 * n) for n in range(count))
    return {name.decode("latin-1"): (start, size) for name, start, size in rows}


def contents(profile: bytes) -> dict[str, bytes]:
    return {name: profile[start : start + size] for name, (start, size) in tags_of(profile).items()}


def laid_out(head: bytes, tags: Mapping[str, bytes], gap: bytes = b"") -> bytes:
    """Write a profile as a careless program would, with something between its tags."""
    table, body, start = struct.pack(">I", len(tags)), gap, 132 + 12 * len(tags)
    for name, content in tags.items():
        table += struct.pack(">4sII", name.encode("latin-1"), start + len(body), len(content))
        body += content + bytes(-len(content) % 4) + gap
    return struct.pack(">I", start + len(body)) + head[4:128] + table + body


def telling(profile: bytes) -> bytes:
    """Return a profile with a secret in every place that it has: head, texts, private tags, behind each tag, and between them."""
    head = bytearray(profile[:128])
    head[4:8] = head[40:44] = head[80:84] = SECRET[:4]
    head[48:64], head[84:100], head[100:116] = SECRET, SECRET, SECRET
    words = b"text" + bytes(4) + SECRET + b"\0"
    tags = {name: content + SECRET for name, content in contents(profile).items()}
    tags |= dict.fromkeys(PRIVATE, words) | {
        "desc": b"desc" + bytes(4) + struct.pack(">I", 17) + SECRET + bytes(79),
        "cprt": words,
    }
    return laid_out(bytes(head), tags, SECRET)


def reserved_too(content: bytes) -> bytes:
    return content[:4] + SECRET[:4] + content[8:]


def grey() -> bytes:
    head = rgb_profile(DISPLAY_P3, SRGB_CURVE)[:128]
    return laid_out(
        head[:16] + b"GRAY" + head[20:],
        {"kTRC": POWER_CURVE + b"\0\0", "wtpt": b"XYZ " + bytes(4) + struct.pack(">3i", 63190, 65536, 54061)},
    )


def ramp(count: int) -> bytes:
    return b"".join(struct.pack(">H", round(65535 * (n / (count - 1)) ** 1.4)) for n in range(count))


def colours(come: int, go: int, grid: int) -> list[float]:
    """Return values of a grid from inks or lights to L*a*b* or the like, each between 0 and 1."""
    return [((n * (k + 3)) % 97) / 96 for n in range(grid**come) for k in range(go)]


def cmyk(kind: str) -> bytes:
    """Return a profile of four inks, by a table of eight or sixteen bits, or put together of curves and a grid."""
    head = bytearray(rgb_profile(DISPLAY_P3, SRGB_CURVE)[:128])
    head[12:24] = b"prtrCMYKLab "
    values, fixed = colours(4, 3, 3), struct.pack(">9i", *(65536 if n % 4 == 0 else 0 for n in range(9)))
    if kind == "mft1":
        deep = bytes(round(255 * v) for v in values)
        table = b"mft1" + bytes(4) + bytes((4, 3, 3, 0)) + fixed + bytes(range(256)) * 4 + deep + bytes(range(256)) * 3
    elif kind == "mft2":
        deep = b"".join(struct.pack(">H", round(65280 * v)) for v in values)
        table = b"mft2" + bytes(4) + bytes((4, 3, 3, 0)) + fixed + struct.pack(">HH", 5, 7) + ramp(5) * 4 + deep + ramp(7) * 3
    else:
        curve = b"curv" + bytes(4) + struct.pack(">I", 5) + ramp(5) + b"\0\0"
        lower = b"para" + bytes(4) + struct.pack(">HHi", 0, 0, 65536)
        grid = bytes((3,) * 4).ljust(16, b"\0") + b"\2\0\0\0" + b"".join(struct.pack(">H", round(65535 * v)) for v in values)
        grid += bytes(-len(grid) % 4)
        matrix = struct.pack(">12i", *(65536 if n in (0, 4, 8) else 0 for n in range(12)))
        gap, at, places, made = SECRET, 32, [], b""
        for piece in (lower * 3, matrix, lower * 3, grid, curve * 4):
            made += gap
            places.append(at + len(made))
            made += piece
        table = b"mAB " + bytes(4) + bytes((4, 3, 0, 0)) + struct.pack(">5I", *places) + made
    return laid_out(bytes(head), {"A2B0": table, "wtpt": b"XYZ " + bytes(4) + struct.pack(">3i", 63190, 65536, 54061)})


def known_profile() -> bytes:
    return (files("weasyprint") / "pdf" / "sRGB2014.icc").read_bytes()


PROFILES = {
    "sRGB of the ICC": ("RGB", known_profile),
    "sRGB of the library": ("RGB", lambda: ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()),
    "lights and a function": ("RGB", lambda: rgb_profile(DISPLAY_P3, SRGB_CURVE)),
    "lights and a power": ("RGB", lambda: rgb_profile(DISPLAY_P3, POWER_CURVE)),
    "grey": ("L", grey),
    "inks, eight bits": ("CMYK", lambda: cmyk("mft1")),
    "inks, sixteen bits": ("CMYK", lambda: cmyk("mft2")),
    "inks, curves and a grid": ("CMYK", lambda: cmyk("mAB ")),
}


def seen(profile: bytes, mode: str) -> bytes:
    """Return many colours as they are seen by a profile, in L*a*b* of eight bits."""
    count = len(Image.new(mode, (1, 1)).getbands())
    steps = range(0, 256, 5) if count < 4 else range(0, 256, 51)
    raw = bytes(
        step * (7 * band + 1) % 256 for step in steps for other in range(12) for band in range(count) for step in [step + other]
    )
    image = Image.frombytes(mode, (len(raw) // count, 1), raw)
    lab = ImageCms.createProfile("LAB")
    made = ImageCms.profileToProfile(image, io.BytesIO(profile), lab, outputMode="LAB")
    assert made is not None
    return made.tobytes()


@pytest.mark.parametrize("name", PROFILES)
def test_every_colour_stays_and_nothing_else_does(name: str) -> None:
    mode, make = PROFILES[name]
    original = make()
    told = telling(original)
    plain = plain_profile(told)
    assert seen(plain, mode) == seen(told, mode) == seen(original, mode)
    assert SECRET in told
    assert tags_of(plain).keys() <= ALLOWED
    assert all(SECRET[n : n + 4] not in plain for n in range(len(SECRET) - 3))
    assert plain_profile(plain) == plain
    assert prod(plain[n] == 0 for n in (*range(4, 8), *range(40, 64), *range(80, 128)))


@pytest.mark.parametrize("name", PROFILES)
def test_what_is_reserved_in_a_tag_is_empty(name: str) -> None:
    original = PROFILES[name][1]()
    told = laid_out(original, {n: reserved_too(c) for n, c in contents(original).items()})
    assert SECRET[:4] not in plain_profile(told)


@pytest.mark.parametrize("kind", ["mft1", "mft2"])
def test_a_table_says_how_long_it_is(kind: str) -> None:
    plain = contents(plain_profile(telling(cmyk(kind))))["A2B0"]
    assert plain == contents(cmyk(kind))["A2B0"]


@pytest.mark.parametrize(
    "profile",
    [b"", b"no profile", bytes(200), rgb_profile(DISPLAY_P3, SRGB_CURVE)[:200], rgb_profile(DISPLAY_P3, SRGB_CURVE).replace(b"rTRC", b"xTRC"), rgb_profile(DISPLAY_P3, SRGB_CURVE).replace(b"mntr", b"link")],
)  # fmt: skip
def test_what_is_no_profile_of_a_picture_goes(profile: bytes) -> None:
    assert plain_profile(profile) == b""


@given(st.sampled_from(sorted(PROFILES)), st.data())
@settings(max_examples=80, deadline=None)
def test_any_damage_comes_to_a_profile_that_is_read_or_to_none(name: str, data: st.DataObject) -> None:
    damaged = bytearray(PROFILES[name][1]())
    for _ in range(data.draw(st.integers(1, 4))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    plain = plain_profile(bytes(damaged[: data.draw(st.integers(0, len(damaged)))]))
    assert not plain or (tags_of(plain).keys() <= ALLOWED and plain_profile(plain) == plain)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_originals_of_every_form_keep_their_colours_and_no_serial_number(form: str, tmp_path: Path) -> None:
    told = telling(rgb_profile(DISPLAY_P3, SRGB_CURVE))
    original = encoded(corners(), form, icc_profile=told)
    bare = bare_picture(original, own=False)
    assert bare
    with Image.open(io.BytesIO(bare)) as image, Image.open(io.BytesIO(original)) as before:
        kept = image.info["icc_profile"]
        assert tags_of(kept).keys() <= ALLOWED
        assert seen(kept, "RGB") == seen(before.info["icc_profile"], "RGB")
        assert image.tobytes() == before.tobytes()
    assert SECRET not in bare
    if not shutil.which("exiftool"):
        return
    (tmp_path / "x").write_bytes(bare)
    (read,) = json.loads(
        subprocess.run(["exiftool", "-j", "-a", "-G1", "-u", tmp_path / "x"], capture_output=True, check=True).stdout
    )
    assert "Warning" not in read
    assert not re.search("EIZO|77041988", json.dumps(read))
    assert read.get("ICC-header:ProfileClass", "").startswith("Display")


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_a_profile_that_cannot_be_read_is_not_passed_on(form: str) -> None:
    bare = bare_picture(encoded(corners(), form, icc_profile=b"\0" * 40 + SECRET * 9), own=False)
    with Image.open(io.BytesIO(bare or b"")) as image:
        assert not image.info.get("icc_profile")
        image.load()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_published_pictures_have_no_profile_at_all(form: str) -> None:
    original = encoded(corners(), form, icc_profile=telling(rgb_profile(DISPLAY_P3, SRGB_CURVE)))
    for made in (*(r.data for r in publishable(original).renditions), for_print(original)):
        assert b"ICC" not in made
        assert SECRET not in made
        with Image.open(io.BytesIO(made)) as image:
            assert "icc_profile" not in image.info
