"""Pages from templates: what a user wrote is escaped, and nothing is loaded from elsewhere."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined


@cache
def environment() -> Environment:
    """The templates of this package; a name that a template does not get is an error."""
    made = Environment(
        loader=PackageLoader("assess.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["percents"] = percents
    return made


def percents(text: str) -> str:
    r"""Text in which no line begins with a percent sign.

    >>> percents("79 % seen")
    '79\xa0% seen'
    """
    return text.replace(" %", "\u00a0%")


def rendered(template: str, **values: Any) -> str:
    """A page from a template.

    Args:
        template: its name in ``assess/pages/templates``.
        values: what it shows.
    """
    return environment().get_template(template).render(**values)
