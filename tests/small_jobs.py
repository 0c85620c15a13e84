"""A small job that has a little of everything, some of it not for its owner."""

from __future__ import annotations

import io

from folders import picture, sound
from folders import write as write_job
from pictures import corners, encoded

__all__ = ["SMALL_JOB", "write_job"]


def printed(subject: str) -> bytes:
    """Return a PDF of one empty page that tells what it is about."""
    from pypdf import PdfWriter  # noqa: PLC0415  # only here

    writer, out = PdfWriter(), io.BytesIO()
    writer.add_blank_page(100, 100)
    writer.add_metadata({"/Subject": subject})
    writer.write(out)
    return out.getvalue()


RAILS = "item,unit,nominal,low,high,as_found,as_left,ref\n+15 V,V,15,14.85,15.15,13.4,15.02,R2\nripple,mV,2,0,5,9,1.5,\n"
SMALL_JOB: dict[str, str | bytes] = {
    "job.yml": (
        "title: Overhaul\ninstrument: {maker: Varnholt & Pike, model: Estuary 44, kind: synthesizer, year: 1977, serial: VP-7}\n"
        "owner: {name: Ottilie Marrenbach}\ntechnician: {name: Corvin Hathersedge, email: bench@hathersedge.example}\n"
        "dates: {received: 2026-02-03, finished: 2026-04-17, returned: 2026-04-18, next_service: 2031-04}\n"
        "modules: [{id: psu, title: Supply, boards: [main]}]\ncosts: {currency: EUR, hourly_rate: 55}\n"
    ),
    "notes/10-arrival.md": "---\ntitle: Arrival\ndate: 2026-02-03\nstage: arrival\n---\nR2 was **dark**: see [the rails](check:rails).\n",
    "notes/20-secret.md": "---\nedition: archive\n---\nNot for the owner.\n",
    "boards/main.yml": "title: Main board\nsize_mm: [100, 80]\n",
    "boards/main.csv": "ref,x_mm,y_mm,kind,value\nR2,10,10,resistor,4k7\n",
    "parts.csv": (
        "board,ref,action,was,now,reason,status,unit_cost,supplier\nmain,R2,replaced,4k7,4k7,drifted,fitted,0.1,Quayside Components\n"
        "main,C1,cleaned,,,dust,fitted,,\nmain,R3,replaced,1k,,burnt,ordered,,\n"
    ),
    "faults.csv": "symptom,cause,board,ref,remedy\nhum,dry capacitor,main,R2,replaced\n",
    "photos/front-before.jpg": picture(),
    "photos/inside.png": encoded(corners(), "PNG"),
    "photos.csv": "file,caption,stage,date\nphotos/front-before.jpg,As it came,before,2026-02-03\n",
    "marks.csv": "photo,shape,x,y,w,h,text,ref\nphotos/front-before.jpg,box,10,10,20,20,one knob gone,\n",
    "checks.yml": "- {id: rails, title: Supply rails, kind: readings, module: psu, board: main, file: rails.csv}\n",
    "measurements/rails.csv": RAILS,
    "documents/circuit.pdf": b"%PDF-1.4 of others",
    "documents/letter.pdf": printed("to the owner"),
    "documents.csv": "file,title,kind,edition\ncircuit.pdf,Circuit,schematic,\nletter.pdf,Letter,letter,owner\n",
    "recordings/hum.wav": sound(),
}
