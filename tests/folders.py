"""Writing job folders for tests."""

from __future__ import annotations

from pathlib import Path

JOB = "title: A small job\npublish: yes\n"


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
