"""Amounts of money in a text: a number beside a currency or with *an hour* behind it, or behind *price* with no unit after it.

Currency codes: ISO 4217, those that parts are mostly bought in; signs: the block Currency Symbols of Unicode 15.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from benchrecord.publish.guarding.patterns import Patterns

SIGN = rb"\$|\xc2[\xa2-\xa5]|\xe2\x82[\xa0-\xbf]"
CODES = rb"EUR|USD|GBP|CHF|SEK|NOK|DKK|ISK|PLN|CZK|HUF|RON|UAH|JPY|CNY|KRW|INR|AUD|NZD|CAD|MXN|BRL|ZAR|ILS|SGD|HKD|TWD"
NAMES = rb"eur|usd|gbp|chf|euros?|dollars?|francs?|kr\.?|s?fr\.|k(?:\xc4\x8d|c)|z(?:\xc5\x82|l)"  # in either case
BLANK = rb"(?:\s|\xc2\xa0|\xe2\x80[\x89\xaf]|&nbsp;)"
AN_HOUR = rb"(?:an?|per) hour|(?:per |/ ?)h(?:r|our)?"
PRICE = rb"price|costs?|paid|hourly rate|data-label=\"each"
TO_ITS_NUMBER = rb"(?:<[^<>]*>|[^0-9a-zA-Z<]){1,12}(?:(?:is|was|at)" + BLANK + rb")?"
THOUSANDS = rb"(?:[.,' ]|\xe2\x80[\x89\x99\xaf]|\xc2\xa0)\d{3}(?!\d)"
NUMBER = rb"(?P<number>(?>\d+(?:" + THOUSANDS + rb")*(?:[.,]\d+)?))"
NO_CENTS = rb"(?:[.,](?:-|\xe2\x80[\x90-\x95]))?"
OF_A_SENTENCE = rb"(?:an?|and|apiece|at|but|by|each|for|i[nst]|on|or|per|plus|the|to|was|with)\b"
NO_UNIT = rb"(?!" + BLANK + rb"?(?!" + OF_A_SENTENCE + rb")(?:[%a-z]|\xc2[\xb0\xb5]|\xce))"
CURRENCY = rb"(?:" + SIGN + rb"|\b(?:" + CODES + rb"|(?i:" + NAMES + rb"))(?![a-zA-Z]))"
BEHIND_CURRENCY = re.compile(CURRENCY + BLANK + rb"{0,2}" + NUMBER)
BEFORE_UNIT = re.compile(
    rb"(?<!\w)(?<!\d[.,])" + NUMBER + NO_CENTS + BLANK + rb"{0,2}(?:" + CURRENCY + rb"|(?i:" + AN_HOUR + rb")(?![a-zA-Z]))"
)
BEHIND_PRICE = re.compile(rb"(?i:\b(?:" + PRICE + rb")" + TO_ITS_NUMBER + NUMBER + NO_CENTS + NO_UNIT + rb")")
NEAR, FAR = 32, 256  # bytes in which a number stands, without tags before it and with them
# The signs of an amount, all of them looked for in one pass: what it is read by, from how many bytes before to how many behind.
BESIDE_CURRENCY = ((BEHIND_CURRENCY, 0, NEAR), (BEFORE_UNIT, NEAR, NEAR))
SIGNS = Patterns(
    (
        (rb"\$[ \xa0\xc2]{0,2}\d|\d[ \xa0\xc2.,-]{0,3}\$|" + SIGN.removeprefix(rb"\$|"), BESIDE_CURRENCY),
        (rb"(?:^|[^a-z])(?:" + CODES + rb"|" + NAMES + rb")(?:[^a-z]|$)", BESIDE_CURRENCY),
        (rb"(?:an?|per) hour|(?:per |/ ?)h(?:[^0-9a-z]|r|our|$)", BESIDE_CURRENCY[1:]),
        (PRICE, ((BEHIND_PRICE, 1, FAR),)),
    )
)


def amounts(text: bytes) -> Iterator[tuple[int, set[float]]]:
    """Yield where each amount of money stands in a text, and what it may be: 1.234 is read in two ways."""
    for start, end, told in SIGNS.matches(text):
        for pattern, before, behind in told:
            for match in pattern.finditer(text, max(0, start - before), end + behind):
                if match.start() < end and match.end() > start:  # not another one, whose end is cut off
                    yield match.start("number"), _readings(match["number"])


def _readings(written: bytes) -> set[float]:
    figures = re.sub(rb"[^\d.,]", b"", written)
    whole, decimals = re.fullmatch(rb"([\d.,]*?)(?:[.,](\d+))?", figures).groups(b"")  # type: ignore[union-attr]  # it always does
    whole = re.sub(rb"[.,]", b"", whole)
    as_thousands = {float(whole + decimals)} if len(decimals) == len("000") else set()
    return as_thousands | {float(whole + b"." + decimals)}
