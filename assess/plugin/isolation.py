"""Running a plugin's code so that whatever goes wrong in it stays with it."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import StringIO
from threading import RLock
from typing import Any

from assess.base.errors import AssessError, JobFileError, PluginInterrupted
from assess.knowledge.plugin_faults import PluginFault, Provider
from assess.plugin.process_state import process_state_kept

STANDARD_OUTPUT = 1
"""The number of the file that programs, and whatever they start, print to."""
LONGEST_MESSAGE = 5000
"""Letters of the longest message of an exception that is kept."""
_STREAMS = ("stdin", "stdout", "__stdin__", "__stdout__")
_ERROR_STREAMS = ("stderr", "__stderr__")
_ONE_AT_A_TIME = RLock()
"""Standard streams belong to the whole process: only one plugin at a time may lack them."""


class HookError(Exception):
    """A plugin failed: at which hook, and why."""

    def __init__(self, hook: str, cause: str, subsystem: str | None = None) -> None:
        super().__init__(cause)
        self.hook, self.cause, self.subsystem = hook, cause, subsystem

    def fault(self, provider: Provider) -> PluginFault:
        """The failure with the name of the plugin."""
        return PluginFault(provider, self.hook, self.cause, self.subsystem)


def isolated(hook: str, call: Callable[[], Any], who: Provider) -> Any:
    """What a plugin's code returns; what it raises, prints, reads or sets stays with it.

    Args:
        hook: the name of the hook, for messages.
        call: runs the plugin's code, and all of it: a generator must be read out inside, and
            what it gave must be checked inside, since its objects may run code as well.
        who: the plugin, for messages.

    Raises:
        HookError: it raised anything at all, ``SystemExit`` included.
        JobFileError: it found a mistake of the user's; a plugin that does not come with the
            engine is named.
        PluginInterrupted: the user interrupted it.
    """
    try:
        with _ONE_AT_A_TIME, process_state_kept(), _without_streams():
            return call()
    except HookError:
        raise
    except JobFileError as error:
        if who.is_own:
            raise
        raise JobFileError(f"{_message(error)}\n(says plugin {who}, {hook})") from error
    except KeyboardInterrupt as error:
        raise PluginInterrupted(f"interrupted in plugin {who}, {hook}") from error
    except BaseException as error:
        raise HookError(hook, _cause(error)) from error


def _cause(error: BaseException) -> str:
    said = _message(error)
    # What an exception says of its own class is the plugin's code, too.
    if issubclass(type(error), AssessError):
        return said
    return f"{_name(error)}: {said}" if said else _name(error)


def _message(error: BaseException) -> str:
    """What an exception says; its text is the plugin's code, too."""
    try:
        said = str.__str__(str(error))
    except BaseException as worse:
        return f"(its message cannot be read: {_name(worse)})"
    return said if len(said) <= LONGEST_MESSAGE else f"{said[:LONGEST_MESSAGE]} ..."


def _name(error: BaseException) -> str:
    """The name of an exception's class, whatever the class itself does."""
    return str(type.__dict__["__name__"].__get__(type(error)))


@contextmanager
def _without_streams() -> Iterator[None]:
    """Nothing is read from standard input or reaches standard output, by whatever way."""
    names = (*_STREAMS, *_ERROR_STREAMS)
    kept = [getattr(sys, name) for name in names]
    for name in _STREAMS:
        setattr(sys, name, StringIO())
    try:
        with _without_standard_output():
            yield
    finally:
        for name, stream in zip(names, kept, strict=True):
            setattr(sys, name, stream)


@contextmanager
def _without_standard_output() -> Iterator[None]:
    """What is written to the file itself, such as by a program that is started, is lost."""
    try:
        kept = os.dup(STANDARD_OUTPUT)
    except OSError:  # Standard output is closed, so nothing can reach it.
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, STANDARD_OUTPUT)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, STANDARD_OUTPUT)
        os.close(kept)
