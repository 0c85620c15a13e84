"""Who may see each field of a job, at least, and what is done with it for those who may not: the one table of it.

Every field of every part of a job has its row here; a test holds them together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from benchrecord.model import job as model
from benchrecord.model.job import Edition


class Way(StrEnum):
    """What is done with a field for a reader who may not see it, or not what it names."""

    EMPTIED = "left empty"
    SUMMED = "left empty; only the sum of all is shown"
    ITEMS = "each item by its own reader"
    EMPTIED_NAME = "left empty where it names what is left out"
    ITEM_OF_NAME = "left out with what it names"
    WORDS = "links to what is left out become plain words"
    UNUSED = "left out where only checks that are left out use it"
    USED = "for everyone where something that they see uses it; else left out where only what is left out does"
    NUMBERED = "shown without the number that orders it"


class Personal(StrEnum):
    """What kind of value is of a person or of the trade."""

    NAME = "a name or an address: each of its words tells"
    CODE = "a number or an address of the net: it tells as a whole"
    AMOUNT = "an amount of money"


@dataclass(frozen=True, slots=True)
class Rule:
    """The row of a field: its least reader, and how it is taken out for others.

    ``personal`` says that its value is nobody else's wherever it stands, even where the same words stand in a text for everyone.
    ``keywords`` are the words that say what a value is, where they stand directly before it.
    """

    least: Edition = Edition.PORTFOLIO
    way: Way = Way.EMPTIED
    personal: Personal | None = None
    keywords: tuple[str, ...] = ()


Rules = Mapping[str, Rule]
OPEN = Rule()
OWNERS, TECHNICIANS = Edition.OWNER, Edition.ARCHIVE


def _open(names: str) -> dict[str, Rule]:
    return dict.fromkeys(names.split(), OPEN)


def _ways(way: Way, names: str) -> dict[str, Rule]:
    return dict.fromkeys(names.split(), Rule(way=way))


HOURS = Rule(TECHNICIANS)
SERIAL = ("serial", "s/n", "sn", "no.", "nr.", "number", "#")
OWNER = (
    "owner",
    "client",
    "customer",
    "mr",
    "mrs",
    "ms",
    "mx",
    "dr",
    "herr",
    "frau",
    "family",
    "belongs to",
    "for",
    "from",
    "by",
)
SUPPLIER = ("supplier", "vendor", "bought", "ordered", "from", "by", "at")
ORDER_CODE = ("order code", "order_code", "order no.", "order number", "article", "art.")

TABLE: Mapping[type, Rules] = {
    model.Job: {
        **_open("id title summary publish decision_rule at"),
        **_ways(Way.ITEMS, "instrument owner technician hand_over dates modules costs notes boards photos marks parts faults date_codes documents trims checks patches"),
        **_ways(Way.UNUSED, "meters"),
        **_ways(Way.USED, "recordings"),
        "cover": Rule(way=Way.EMPTIED_NAME),
    },
    model.Instrument: {
        **_open("maker model kind year"),
        "serial": Rule(OWNERS, personal=Personal.CODE, keywords=SERIAL),
    },
    model.Owner: {
        "name": Rule(OWNERS, personal=Personal.NAME, keywords=OWNER),
        "email": Rule(OWNERS, personal=Personal.CODE),
        "phone": Rule(OWNERS, personal=Personal.CODE),
        "address": Rule(OWNERS, personal=Personal.NAME, keywords=("address", "lives in", "lives at")),
    },
    model.Technician: dict.fromkeys(("name", "email", "phone", "address"), Rule(OWNERS)),  # on hand-written pages they may stand all the same
    model.HandOver: _open("photo_location"),
    model.Dates: _open("received finished returned warranty_until next_service"),
    model.Control: _open("name range positions"),
    model.Module: {**_open("id title boards inputs outputs place"), **_ways(Way.ITEMS, "controls")},
    model.MeterRange: _open("unit up_to reading_percent counts resolution"),
    model.Meter: {**_open("id title calibrated place"), **_ways(Way.ITEMS, "ranges")},
    model.Costs: {
        "currency": Rule(OWNERS),
        "hourly_rate": Rule(TECHNICIANS, personal=Personal.AMOUNT),
        "parts": Rule(OWNERS, personal=Personal.AMOUNT),
        "parts_reason": Rule(OWNERS),
    },
    model.Note: {
        **_open("id file title body_line date stage board module place at"),
        **_ways(Way.ITEMS, "edition"),
        **_ways(Way.WORDS, "body"),
        **_ways(Way.NUMBERED, "address"),
        "hours": HOURS,
    },
    model.BoardPart: _open("ref x y kind value function side rotation place"),
    model.PhotoPoint: _open("board px place"),
    model.BoardPhoto: {**_open("stage side place"), **_ways(Way.ITEMS, "points"), **_ways(Way.ITEM_OF_NAME, "file")},
    model.Board: {**_open("id title size_mm frame place"), **_ways(Way.ITEMS, "photos parts")},
    model.Photo: {
        **_open("file width height caption stage date dated board module refs content taken_by place"),
        **_ways(Way.ITEMS, "edition"),
    },
    model.Mark: {**_open("shape x y w h text ref place"), **_ways(Way.ITEM_OF_NAME, "photo")},
    model.PartWork: {
        **_open("board ref action was now reason was_rating now_rating measured qty obsolete original_kept status place"),
        "unit_cost": Rule(TECHNICIANS, Way.SUMMED, personal=Personal.AMOUNT),
        "supplier": Rule(TECHNICIANS, personal=Personal.NAME, keywords=SUPPLIER),
        "order_code": Rule(TECHNICIANS, personal=Personal.CODE, keywords=ORDER_CODE),
        "note": Rule(TECHNICIANS),
    },
    model.Fault: {**_open("symptom cause board ref remedy place"), "hours": HOURS},
    model.DateCode: _open("board ref code note place"),
    model.Document: {**_open("file title kind place"), **_ways(Way.ITEMS, "edition")},
    model.Trim: {
        **_open("board ref function module after unit target low high as_found as_left turns position_found position_left decimals place"),
        **_ways(Way.EMPTIED_NAME, "check"),
    },
    model.Take: {**_open("stage file at place")},
    model.Check: {
        **_open("id title kind module board meter limit note table place at"),
        **_ways(Way.ITEMS, "edition takes"),
        **_ways(Way.EMPTIED_NAME, "keys"),
    },
    model.Recording: {**_open("file rate frames channels form lossy")},
    model.Patch: {**_open("id title connections settings place at"), **_ways(Way.EMPTIED_NAME, "recording")},
}  # fmt: skip

# What the parts of a job are called where somebody reads of them.
CALLED: Mapping[type, str] = {
    model.Job: "job", model.Instrument: "instrument", model.Owner: "owner", model.Technician: "technician", model.HandOver: "hand-over", model.Dates: "dates", model.Control: "control", model.Module: "module",
    model.MeterRange: "range of a meter", model.Meter: "meter", model.Costs: "costs", model.Note: "note", model.BoardPart: "part of a board",
    model.PhotoPoint: "point of a photograph", model.BoardPhoto: "photograph of a board", model.Board: "board", model.Photo: "photograph",
    model.Mark: "mark", model.PartWork: "part", model.Fault: "fault", model.DateCode: "date code", model.Document: "document", model.Trim: "trim",
    model.Take: "recording of a check", model.Check: "check", model.Recording: "recording", model.Patch: "patch",
}  # fmt: skip

# Readers from the one who sees least to the one who sees all.
ORDER = (Edition.PORTFOLIO, Edition.OWNER, Edition.ARCHIVE)
# What an item is for where it does not say: documents are of others, and not ours to pass on.
UNSAID: Mapping[type, Edition] = {model.Document: TECHNICIANS}


def may_see(reader: Edition, least: Edition | None) -> bool:
    """Say whether a reader sees what is meant for ``least`` and those above; None is for everyone."""
    return least is None or ORDER.index(reader) >= ORDER.index(least)


def least_reader(item: object) -> Edition | None:
    """Return the least reader of an item: as it says itself, or as its kind is where it does not; None for everyone."""
    return getattr(item, "edition", None) or UNSAID.get(type(item))


def called(kind: type, name: str) -> str:
    """Return what a field is called: the part of a job that it belongs to, and its own name."""
    return f"{CALLED[kind]}: {name.replace('_', ' ')}"


def rows() -> Iterator[tuple[type, str, Rule]]:
    """Yield each row that is not simply for everyone: what it is a field of, the field, and its rule."""
    for kind, rules in TABLE.items():
        yield from ((kind, name, rule) for name, rule in rules.items() if rule != OPEN)


def alike() -> Iterator[tuple[str, tuple[str, ...], Rule]]:
    """Yield the rows that are not simply for everyone, those of one part that are treated alike in one: the part, its fields, their rule."""
    found: dict[tuple[str, Edition, Way], list[str]] = {}
    for kind, name, rule in rows():
        own, least = name == "edition", UNSAID.get(kind, rule.least)
        if own or rule.least is not Edition.PORTFOLIO or rule.way is not Way.ITEMS:
            found.setdefault((CALLED[kind], least, rule.way), []).append("as a whole" if own else name.replace("_", " "))
    yield from ((part, tuple(names), Rule(least, way)) for (part, least, way), names in found.items())
