"""Properties are held to what they say, not to a time: the machine may be busy."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")
