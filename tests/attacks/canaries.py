"""Job folders with a different random word in every place that some reader must not see."""

from __future__ import annotations

import io
import random
import string
from dataclasses import dataclass, field
from typing import Any

from PIL import ExifTags, Image

from benchrecord.model.job import Edition

P, O, A = Edition.PORTFOLIO, Edition.OWNER, Edition.ARCHIVE  # noqa: E741  # the three readers
NOBODY = None


@dataclass
class Canaries:
    """The words of one job, by where they stand, each with the least reader who may come upon it (None: nobody)."""

    seed: int
    words: dict[str, tuple[str, Edition | None]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.random = random.Random(self.seed)  # noqa: S311  # the same at each run

    def word(self, where: str, least: Edition | None) -> str:
        """Return a new random word."""
        made = "".join(self.random.choices(string.ascii_lowercase, k=11))
        self.words[where] = (made, least)
        return made

    def number(self, where: str, least: Edition | None) -> str:
        """Return a new random number of six figures."""
        made = f"{self.random.randint(11, 98)}.{self.random.randint(1001, 9989)}".rstrip("0")
        made = made if len(made) == 7 else made + "7" * (7 - len(made))  # four decimals
        self.words[where] = (made, least)
        return made


def folder(canaries: Canaries, *, publish: bool) -> dict[str, str | bytes]:
    """Return a job folder whose every private place holds a word of its own."""
    w, n = canaries.word, canaries.number
    secret, owners, shut = w("name of a note", A), w("name of an owner's note", O), w("id of a check", A)
    pic, board_pic, ear, doc = (
        w("name of a picture", A),
        w("name of a board's picture", O),
        w("name of a recording", A),
        w("name of a document", A),
    )
    meter = w("id of a meter", A)
    return {
        "job.yml": f"# {w('comment in YAML', NOBODY)}\ntitle: An overhaul\npublish: {'yes' if publish else 'no'}\n"
        f"decision_rule: &{w('anchor in YAML', NOBODY)} guarded\n"
        f"instrument: {{model: Estuary, serial: {w('serial', O)}}}\n"
        f"owner: {{name: {w('name', O)} {w('family name', O)}, email: {w('e-mail', O)}@example.invalid, phone: '+00 {canaries.random.randint(10**7, 10**8 - 1)}', address: 7 {w('address', O)} Lane}}\n"
        f"technician: {{name: {w('technician', O)}, email: {w('technician, e-mail', O)}@example.invalid}}\n"
        f"costs: {{currency: EUR, hourly_rate: {n('hourly rate', A)}}}\n"
        f"meters: [{{id: {meter}, title: {w('title of a meter', A)}}}, {{id: dmm, title: Meter}}]\n"
        f"boards_note: x\n".replace("boards_note: x\n", ""),
        "notes/10-open.md": f"---\nhours: {n('hours of a note', A)}\n---\nSee [that](note:20-{secret}) and [this](photo:{pic}.jpg), [shut](check:{shut}).\n\n"
        f"![a picture](photo:{pic}.jpg)\n\n<!-- {w('comment in a note', NOBODY)} -->\n",
        f"notes/20-{secret}.md": f"---\nedition: archive\ntitle: {w('title of a note', A)} day\n---\nIt was {w('words of a note', A)} that day.\n",
        f"notes/30-{owners}.md": f"---\nedition: owner\n---\nFor the owner: {w('words of an owner', O)}.\n",
        "notes/40-last.md": "The last of it.\n",
        "parts.csv": f"# {w('comment in a table', NOBODY)}\nref,action,now,supplier,order_code,unit_cost,note\n"
        f"R1,replaced,10k,{w('supplier', A)} Ltd,{w('order code', A)},{n('price', A)},{w('remark on a part', A)}\nR2,replaced,1k,,,1.25,\n",
        "faults.csv": f"symptom,remedy,hours\nhum <!-- {w('comment in a cell', NOBODY)} -->,mended,{n('hours of a fault', A)}\n",
        "boards/b.yml": f"title: Board <!-- {w('comment in a title', NOBODY)} -->\nphotos: [{{file: {board_pic}.jpg}}]\n",
        "boards/b.csv": f"ref,x_mm,y_mm,layout_{w('name of a column', NOBODY)}\nR1,1,1,{w('column of others', NOBODY)}\nR9,20,30,\n",
        "photos.csv": f"file,caption,edition\n{pic}.jpg,{w('caption', A)} seen,archive\n{board_pic}.jpg,,owner\n"
        f"open.jpg,For all <!-- {w('comment in a caption', NOBODY)} --> who look,\n",
        "marks.csv": f"photo,shape,x,y,text\n{pic}.jpg,point,1,1,{w('mark', A)}\nopen.jpg,point,5,5,here <!-- {w('comment never closed', NOBODY)}\n",
        f"photos/{pic}.jpg": told(canaries, "shut picture"),
        f"photos/{board_pic}.jpg": told(canaries, "board's picture"),
        "photos/open.jpg": told(canaries, "open picture"),
        "checks.yml": f"- {{id: open, title: Open, kind: readings, file: a.csv, meter: dmm}}\n"
        f"- {{id: {shut}, title: {w('title of a check', A)}, kind: readings, file: {w('name of a table', NOBODY)}.csv, meter: {meter}, note: {w('note of a check', A)} here, edition: archive}}\n"
        f"- {{id: heard, title: Heard, kind: spectrum, expect: sine, as_left: recordings/{ear}.flac, edition: archive}}\n",
        "measurements/a.csv": "item,as_found\na,1\n",
        f"measurements/{canaries.words['name of a table'][0]}.csv": f"item,as_found\n{w('cell of a table', A)},1\n",
        f"recordings/{ear}.flac": sounding(canaries),
        f"recordings/{w('name of a recording that nothing uses', O)}.flac": sounding(canaries),
        "documents.csv": f"file,title,kind\n{doc}.pdf,{w('title of a document', A)},{w('kind of a document', A)}\n",
        f"documents/{doc}.pdf": printed(canaries),
        f"{w('name of a loose file', NOBODY)}.txt": w("loose file", NOBODY),
    }  # fmt: skip


def told(canaries: Canaries, which: str) -> bytes:
    """Return a JPEG whose metadata tell: Exif, GPS, a comment, XMP."""
    exif, out = Image.Exif(), io.BytesIO()
    exif[0x013B], exif[0x010E] = canaries.word(f"{which}: artist", NOBODY), canaries.word(f"{which}: description", NOBODY)
    exif.get_ifd(ExifTags.IFD.Exif)[0x9286] = b"ASCII\0\0\0" + canaries.word(f"{which}: user comment", NOBODY).encode()
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({1: "N", 2: (51.0, 30.0, 5.5), 3: "W", 4: (0.0, 7.0, 27.0)})
    xmp = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><d>{canaries.word(f"{which}: XMP", NOBODY)}</d></x:xmpmeta>'.encode()
    colour = tuple(canaries.random.randrange(256) for _ in range(3))
    picture: Any = Image.new("RGB", (64, 48), colour)
    picture.save(out, "JPEG", exif=exif, xmp=xmp, comment=canaries.word(f"{which}: comment", NOBODY).encode())
    return out.getvalue()


def sounding(canaries: Canaries) -> bytes:
    """Return a short tone whose tags tell."""
    import numpy as np  # noqa: PLC0415  # only here
    import soundfile  # noqa: PLC0415

    out = io.BytesIO()
    with soundfile.SoundFile(out, "w", 8000, 1, format="FLAC") as file:
        again = " again" * ("tag of a recording: title" in canaries.words)
        file.title = canaries.word(f"tag of a recording: title{again}", NOBODY)
        file.artist = canaries.word(f"tag of a recording: artist{again}", NOBODY)
        file.write(0.3 * np.sin(2 * np.pi * 440 * np.arange(8000) / 8000))
    return out.getvalue()


def printed(canaries: Canaries) -> bytes:
    """Return a PDF whose facts tell."""
    from pypdf import PdfWriter  # noqa: PLC0415  # only here

    writer, out = PdfWriter(), io.BytesIO()
    writer.add_blank_page(100, 100)
    writer.add_metadata({"/Author": canaries.word("fact about a document", NOBODY)})
    writer.write(out)
    return out.getvalue()


def encodings(text: str) -> list[bytes]:
    """Return what to look for of a word, spelt out here once more and by other means than the guard's."""
    import base64  # noqa: PLC0415  # only here

    cases = (text, text.upper(), text.capitalize())
    found = [c.encode(e) for c in cases for e in ("utf-8", "utf-16-le", "utf-16-be")]
    found += [base64.b64encode(b"\0" * k + text.encode())[(4, 4, 4)[k] if k else 0 : -4] for k in range(3)]
    found += ["".join(f"%{ord(c):02X}" for c in text).encode(), "".join(f"&#{ord(c)};" for c in text).encode()]
    found += ["".join(f"\\u{ord(c):04x}" for c in text).encode(), text.encode().hex().encode()]
    return found
