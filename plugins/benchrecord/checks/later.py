"""Kinds of check that are read, checked and listed, and whose sums come in a later version."""

from __future__ import annotations

from benchrecord.model.table import Column, Holds, KindSchema

_NUMBER, _ANY = Holds.NUMBER, Holds.ANY


def _keys(**holds: Holds) -> tuple[Column, ...]:
    return tuple(Column(name, what) for name, what in holds.items())


NOT_WORKED_OUT = (
    KindSchema(
        "response",
        (Column("hz", _NUMBER, positive=True), Column("as_found_db", _NUMBER), Column("as_left_db", _NUMBER)),
        _keys(low_pass=_ANY, high_pass=_ANY, band_pass=_ANY, sweep_hz=_ANY, sweep_s=_NUMBER),
        recordings=True,
        worked_out=False,
    ),
)
