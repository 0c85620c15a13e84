"""The settings of the three plugins, as they stand in mkdocs.yml."""

from __future__ import annotations

from datetime import date

from mkdocs.config.base import BaseConfigOption, Config, ValidationError
from mkdocs.config.config_options import Choice, ListOfItems, Optional, Type

from benchrecord.model.job import Edition


class Day(BaseConfigOption[date]):
    """A day, as YAML has it; a time of day would be none."""

    def run_validation(self, value: object) -> date:
        """Let through a day and nothing else."""
        if type(value) is not date:
            raise ValidationError(f"a day is expected, as 2026-05-23, and not {value}")
        return value


class JobsConfig(Config):
    """``folders``: the job folders; ``edition``: who reads; ``kinds``: files with further kinds of check; ``cache``: where pictures are kept.

    ``as_of``: the day from which the archive counts what is due; without it, the latest day that the jobs tell of.
    """

    folders = ListOfItems(Type(str), default=[])
    edition = Choice([e.value for e in Edition], default=Edition.PORTFOLIO.value)
    kinds = ListOfItems(Type(str), default=[])
    cache = Optional(Type(str))
    as_of = Optional(Day())


class LinksConfig(Config):
    """Nothing to set."""


class GuardConfig(Config):
    """Nothing to set."""
