"""Standard output and standard error as the commands see them: the one place that prints.

What stands in a file must not steer the terminal: control characters, and marks that turn the
direction of writing, are printed as their escapes. So is what the output's encoding lacks. The
escapes are those of JSON, so that data stays the same data.
"""

from __future__ import annotations

import codecs
import contextlib
import os
import re
import sys
import threading
from collections.abc import Iterable, Iterator
from typing import Any, TextIO, cast

import click

from assess.base.errors import UserError

ESCAPES = "escapes-of-json"
"""Name of the way in which characters are written that an encoding lacks."""
STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters, but tabs and line ends
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # the direction of writing
    "\u2028\u2029\ufeff\U000e0000-\U000e007f]"  # line ends of other kinds; what is never seen
)
MOST_MESSAGES = 60
LONGEST_MESSAGE = 1000


class OutputError(UserError):
    """What a command shows cannot be written."""


def escaped(text: str) -> str:
    r"""Characters as JSON writes them.

    >>> print(escaped("\x1b\U0001f600"))
    \u001b\ud83d\ude00
    """
    units = text.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[n]:02x}{units[n + 1]:02x}" for n in range(0, len(units), 2))


def harmless(text: str) -> str:
    r"""A text that can do nothing but be read.

    >>> print(harmless("a\x1b[2Jb"))
    a\u001b[2Jb
    """
    return STEERING.sub(lambda found: escaped(found[0]), text)


def _lacking(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return escaped(error.object[error.start : error.end]), error.end


codecs.register_error(ESCAPES, _lacking)


class HarmlessStream:
    """A stream to which only harmless text goes.

    It has no ``buffer``: there is no way round it. Only the thread that began it prints: a thread
    that a plugin left running could print into the middle of a result, so its text is dropped.
    Errors of the device become :class:`OutputError`, and whatever is still held back is then
    dropped.
    """

    def __init__(self, stream: TextIO) -> None:
        self.beneath = stream
        self._thread = threading.get_ident()
        if callable(reconfigure := getattr(stream, "reconfigure", None)):
            reconfigure(errors=ESCAPES)

    def __getattr__(self, name: str) -> Any:
        if name == "buffer":
            raise AttributeError(name)
        return getattr(self.beneath, name)

    def write(self, text: str | bytes) -> int:
        """Write a text; bytes are read as UTF-8, since words for a shell are written as bytes."""
        # A library that asks whether this is a stream of bytes tries to write none.
        if not text and not isinstance(text, str):
            raise TypeError("only text can be written")
        if isinstance(text, bytes):
            text = text.decode(errors="replace")
        if text and threading.get_ident() == self._thread:
            with self._device():
                self.beneath.write(harmless(text))
        return len(text)

    def flush(self) -> None:
        """Hand on what is held back."""
        with self._device():
            self.beneath.flush()

    @contextlib.contextmanager
    def _device(self) -> Iterator[None]:
        try:
            yield
        except BrokenPipeError:
            self._drop()
            raise
        except OSError as error:
            self._drop()
            raise OutputError(f"the output cannot be written: {error.strerror}") from None

    def _drop(self) -> None:
        """Send the rest nowhere, or the interpreter would try once more when it ends."""
        with contextlib.suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.beneath.fileno())
            os.close(nowhere)


@contextlib.contextmanager
def harmless_streams() -> Iterator[None]:
    """Standard output and error are harmless within; lines are read whatever their bytes are."""
    out, err = sys.stdout, sys.stderr
    # Streams that are closed are None.
    if callable(reconfigure := getattr(sys.stdin, "reconfigure", None)):
        # Bytes that are no text stay in the line and are refused when it would be saved.
        reconfigure(errors="surrogateescape")
    try:
        for name, stream in (("stdout", out), ("stderr", err)):
            if stream is not None and not isinstance(stream, HarmlessStream):
                setattr(sys, name, cast(TextIO, HarmlessStream(stream)))
        yield
    finally:
        sys.stdout, sys.stderr = out, err


def error_terminal() -> TextIO:
    """Standard error itself, for a progress bar: what it draws steers the terminal."""
    return getattr(sys.stderr, "beneath", sys.stderr)


def complain(messages: Iterable[object], head: str = "assess") -> None:
    """Print messages on standard error: the first of many, each short enough to read."""
    lines = [line for message in messages for line in str(message).splitlines()]
    for line in lines[:MOST_MESSAGES]:
        click.echo(f"{head}: {_short(line)}", err=True)
    if len(lines) > MOST_MESSAGES:
        click.echo(f"{head}: and {len(lines) - MOST_MESSAGES} more", err=True)


@contextlib.contextmanager
def short_refusals() -> Iterator[None]:
    """Shorten what click prints of a mistake in the command line."""
    try:
        yield
    except click.ClickException as error:
        vars(error)["message"] = _short(error.message)
        raise


def _short(line: str) -> str:
    return line if len(line) <= LONGEST_MESSAGE else f"{line[:LONGEST_MESSAGE]} ..."
