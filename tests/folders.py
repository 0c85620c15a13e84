"""Writing job folders for tests."""

from __future__ import annotations

from pathlib import Path

JOB = "title: A small job\nowner: none\npublish: yes\n"


def write(folder: Path, files: dict[str, str | bytes]) -> Path:
    """Write files below a folder, and a job.yml where none is among them."""
    for name, content in {"job.yml": JOB, **files}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder with its bytes."""
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def picture(width: int = 64, height: int = 48, colour: str = "teal") -> bytes:
    """Return a small JPEG."""
    import io  # noqa: PLC0415  # only where a picture is needed

    from PIL import Image  # noqa: PLC0415

    out = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(out, "JPEG")
    return out.getvalue()


def sound(length_s: float = 0.1, rate: int = 8000) -> bytes:
    """Return a short tone as a WAV file."""
    import io  # noqa: PLC0415  # only where a recording is needed
    import math  # noqa: PLC0415
    import struct  # noqa: PLC0415
    import wave  # noqa: PLC0415

    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        tone = (round(8000 * math.sin(2 * math.pi * 440 * n / rate)) for n in range(round(length_s * rate)))
        file.writeframes(b"".join(struct.pack("<h", s) for s in tone))
    return out.getvalue()
