"""Ways to write a value that no reader takes for it, and any program does."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from urllib.parse import quote

ENCODINGS: dict[str, Callable[[str], bytes]] = {
    "utf-8": lambda t: t.encode(),
    "utf-16": lambda t: t.encode("utf-16"),
    "utf-16-be": lambda t: t.encode("utf-16-be"),
    "utf-32": lambda t: t.encode("utf-32"),
    "upper case": lambda t: t.upper().encode(),
    "percent, all": lambda t: "".join(f"%{b:02x}" for b in t.encode()).encode(),
    "percent, some": lambda t: quote(t).encode(),
    "percent, twice": lambda t: quote(quote(t)).encode(),
    "entities, decimal": lambda t: "".join(f"&#{ord(c)};" for c in t).encode(),
    "entities, mixed": lambda t: "".join(f"&#x{ord(c):x};" if i % 2 else c for i, c in enumerate(t)).encode(),
    "entities in JSON": lambda t: json.dumps("".join(f"&#{ord(c)};" for c in t)).encode(),
    "JSON, all": lambda t: "".join(f"\\u{ord(c):04x}" for c in t).encode(),
    "JSON, some": lambda t: t.replace("e", "\\u0065").encode(),
    "script": lambda t: "".join(f"\\x{ord(c):02x}" for c in t).encode(),
    "PDF, octal": lambda t: "".join(f"\\{ord(c):03o}" for c in t).encode(),
    "hexadecimal": lambda t: t.encode().hex().encode(),
    "base64": lambda t: base64.b64encode(t.encode()),
    "base64 in a text": lambda t: base64.b64encode(b"a" + t.encode() + b"bc"),
    "base64 in lines": lambda t: base64.encodebytes(b"ab" + t.encode() * 5),
    "base64 of utf-16": lambda t: base64.b64encode(b"x" + t.encode("utf-16-le")),
    "split by tags": lambda t: f"<b>{t[:4]}</b><i class='x'>{t[4:]}</i>".encode(),
    "split by tags and entities": lambda t: f"<b>{t[:4]}</b>&shy;&#8203;{t[4:]}".encode(),
    "split by lines": lambda t: "\n".join(t).encode(),
    "split by soft hyphens": lambda t: "\u00ad".join(t).encode(),
    "split by marks of no width": lambda t: "\u200b".join(t).encode(),
    "split by lines of JSON": lambda t: t.replace(" ", "\\n").encode(),
    "hyphens": lambda t: t.replace(" ", "-").encode(),
    "together": lambda t: t.replace(" ", "").encode(),
}
