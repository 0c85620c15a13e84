"""What Markdown made of a user's words, with nothing in it that runs or fetches: plain words stay where that is taken out."""

from __future__ import annotations

import html
import re
from xml.etree.ElementTree import Element

from benchrecord.publish.guarding.markup import is_foreign, scheme

ATTRIBUTES = frozenset({"href", "src", "title", "alt", "id", "class", "start", "colspan", "rowspan", "align", "style"})
ALIGNED = re.compile(r"text-align: (?:left|right|center);")
FOLLOWED = frozenset({"", "br", "http", "https", "mailto", "tel"})  # br: our own, made into addresses later


def make_harmless(root: Element) -> None:
    """Take out of a tree every attribute that a text has no use for, links that would run, and pictures of elsewhere.

    A reference that led nowhere is an address that no browser opens, and is taken out with the rest.
    """
    for element in root.iter():
        for name in [n for n, value in element.attrib.items() if not _is_harmless(n, value)]:
            del element.attrib[name]
        if element.tag == "a" and "href" not in element.attrib:
            element.tag = "span"
        if element.tag == "img" and "src" not in element.attrib:
            element.tag, element.text = "span", element.attrib.pop("alt", "")


def _is_harmless(name: str, value: str) -> bool:
    if name not in ATTRIBUTES or (name == "style" and not ALIGNED.fullmatch(value)):
        return False
    address = html.unescape(value)
    if name == "href":
        return scheme(address) in FOLLOWED and not address.lstrip().startswith("//")
    return name != "src" or not (scheme(address) or is_foreign(address))
