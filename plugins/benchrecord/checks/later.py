"""Kinds of check that are read, checked and listed, and whose sums come in a later version."""

from __future__ import annotations

from benchrecord.model.table import KindSchema

NOT_WORKED_OUT: tuple[KindSchema, ...] = ()
