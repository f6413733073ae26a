"""The one place that prints: what comes from files and plugins cannot steer the terminal."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import click

from assess.base.errors import UserError

_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Control characters but for the end of a line and the tab, marks that turn the direction of
writing, and halves of characters."""
MOST_MESSAGES = 60
LONGEST_MESSAGE = 1000


def say(text: str = "", *, err: bool = False, nl: bool = True) -> None:
    r"""Print text; what would steer the terminal is shown as ``\u001b``, as in JSON.

    Raises:
        UserError: the output cannot be written, such as to a full disk.
    """
    try:
        click.echo(visible(text), err=err, nl=nl)
    except BrokenPipeError:
        raise
    except OSError as error:
        # The stream would fail once more when the interpreter closes it.
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115
        raise UserError(f"the output cannot be written: {error.strerror}") from error


def visible(text: str) -> str:
    r"""Text in which nothing steers a terminal.

    >>> visible("a\x1b[2Jb")
    'a\\u001b[2Jb'
    """
    return _STEERING.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def complain(messages: Iterable[object], head: str = "assess") -> None:
    """Print messages on standard error: the first of many, each no longer than one reads."""
    lines = [line for message in messages for line in str(message).splitlines()]
    for line in lines[:MOST_MESSAGES]:
        say(f"{head}: {_short(line)}", err=True)
    if len(lines) > MOST_MESSAGES:
        say(f"{head}: and {len(lines) - MOST_MESSAGES} more", err=True)


@contextmanager
def visible_refusals() -> Iterator[None]:
    """What click prints of a mistake in the command line, made visible and short."""
    try:
        yield
    except click.ClickException as error:
        vars(error)["message"] = _short(visible(error.message))
        raise


def _short(line: str) -> str:
    return line if len(line) <= LONGEST_MESSAGE else f"{line[:LONGEST_MESSAGE]} ..."


def print_every_character() -> None:
    """Show a character that the terminal's encoding lacks by its number, rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="backslashreplace")
