"""Templates to Markdown. Everything that comes from a job is escaped on its way into a template."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from benchrecord.model.numbers import shown
from benchrecord.model.prose import lower_first
from benchrecord.pages import addresses, words
from benchrecord.pages.linked import board_of, linked


@dataclass(frozen=True, slots=True)
class Page:
    """One page of Markdown: ``src`` is its path below the site's sources."""

    src: str
    markdown: str


@lru_cache(maxsize=1)
def environment() -> Environment:
    """Return the one environment of all templates."""
    env = Environment(
        loader=PackageLoader("benchrecord.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters |= {
        "shown": shown,
        "day": words.day,
        "plural": words.plural,
        "cell": words.cell,
        "playing": words.playing,
        "lower_first": lower_first,
        "md": lambda text: Markup(words.markdown_text(text)),  # noqa: S704  # markdown_text escapes
        "slug": addresses.slug,
        "verdict_class": words.verdict_class,
        "verdict_words": words.verdict_words,
        "stage_words": words.stage_words,
        "raw": Markup,  # drawings of our own
    }
    env.globals |= {
        "at": addresses,
        "linked": linked,
        "beneath": words.beneath,
        "conclusion": words.conclusion,
        "board_of": board_of,
        "name": words.instrument_name,
        "SHAPES": words.SHAPES,
        "JUDGED": words.JUDGED,
        "STAGES": words.STAGES,
    }
    return env


def render(src: str, template: str, **context: Any) -> Page:
    """Fill one template; blank lines inside HTML are taken out, since Markdown would end the block there."""
    return Page(src, environment().get_template(template).render(**context).strip() + "\n")
