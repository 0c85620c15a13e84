"""Colours of a picture, brought to sRGB: by the profile it carries, or by the colour space that it names."""

from __future__ import annotations

import io
import struct
from contextlib import suppress

from PIL import Image, ImageCms

SRGB = ImageCms.createProfile("sRGB")
INTEROP_IFD, INTEROP_INDEX, ADOBE_RGB_FILE = 0xA005, 1, "R03"  # DCF 2.0: a camera's optional colour space
# The curve of sRGB (IEC 61966-2-1) and a power of 563/256 (Adobe RGB 1998), as ICC.1 writes them.
SRGB_CURVE = b"para\0\0\0\0" + struct.pack(">HH5i", 3, 0, *(round(v * 65536) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)))  # fmt: skip
POWER_CURVE = b"curv\0\0\0\0" + struct.pack(">IH", 1, 563)
# Red, green and blue as XYZ under D50 (Bradford), worked out from the chromaticities of SMPTE EG 432-1, ITU-R BT.2020 and Adobe RGB (1998).
DISPLAY_P3 = ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))
BT_2020 = ((0.67348, 0.27904, -0.00193), (0.16566, 0.67534, 0.02998), (0.12505, 0.04561, 0.79686))
ADOBE_RGB = ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14919, 0.06322, 0.74457))
BY_PRIMARIES = {9: BT_2020, 12: DISPLAY_P3}  # numbers of ITU-T H.273, as HEIC pictures give them

Primaries = tuple[tuple[float, float, float], ...]


def profile_of(image: Image.Image) -> bytes | None:
    """Return a picture's colour profile: its own, or one made for the colour space that it names; None where it says nothing."""
    if image.info.get("icc_profile"):
        return bytes(image.info["icc_profile"])
    named = BY_PRIMARIES.get((image.info.get("nclx_profile") or {}).get("color_primaries", 0))
    if named:
        return rgb_profile(named, SRGB_CURVE)
    with suppress(KeyError):  # some versions of Pillow give an empty part where there is none, some raise
        if str(image.getexif().get_ifd(INTEROP_IFD).get(INTEROP_INDEX, "")).startswith(ADOBE_RGB_FILE):
            return rgb_profile(ADOBE_RGB, POWER_CURVE)
    return None


def in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Return a picture (RGB, L, CMYK or LAB) as RGB in sRGB; colours that sRGB has not become its nearest ones."""
    meant = ImageCms.createProfile("LAB") if image.mode == "LAB" else io.BytesIO(profile) if profile else None
    if meant is None:
        return image.convert("RGB")
    try:
        found = ImageCms.profileToProfile(image, meant, SRGB, outputMode="RGB")
    except ImageCms.PyCMSError:
        return image.convert("RGB")  # a profile that cannot be read says nothing
    return found or image.convert("RGB")


def rgb_profile(primaries: Primaries, curve: bytes) -> bytes:
    """Return an ICC profile (ICC.1, version 4.3) of three primaries, XYZ under D50, that share one curve."""
    tags = {f"{name}XYZ": b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in xyz)) for name, xyz in zip("rgb", primaries, strict=True)}  # fmt: skip
    tags |= {f"{name}TRC": curve + b"\0" * (-len(curve) % 4) for name in "rgb"}
    table, body, start = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for name, content in tags.items():
        table += struct.pack(">4sII", name.encode(), start + len(body), len(content))
        body += content
    d50 = struct.pack(">3i", 63190, 65536, 54061)
    head = struct.pack(
        ">I4sI4s4s4s12s4s28x12s48x", start + len(body), b"", 0x04300000, b"mntr", b"RGB ", b"XYZ ", b"", b"acsp", d50
    )
    return head + table + body
