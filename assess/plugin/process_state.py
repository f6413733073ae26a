"""What belongs to the whole process, as it was before a plugin's code ran.

A plugin may set the working folder, the permissions of new files, what numbers do when they
overflow, or what Ctrl-C does. Left so, the next answer would be saved elsewhere, or not at all.
"""

from __future__ import annotations

import locale
import os
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any

SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGALRM")
USUAL_ERRORS_OF_NUMPY = {"divide": "warn", "over": "warn", "under": "ignore", "invalid": "warn"}
"""What numpy does with errors unless told otherwise."""
OTHER_STANDARD_FILES = (0, 2)
"""The numbers of standard input and standard error."""
Restore = Callable[[], None]


@contextmanager
def process_state_kept() -> Iterator[None]:
    """Whatever code within sets for the whole process is set back after it."""
    restores = [look() for look in _LOOKS]
    with warnings.catch_warnings():
        try:
            yield
        finally:
            for restore in restores:
                # One that fails must not keep the others from being set back.
                with suppress(OSError, ValueError, RecursionError, locale.Error):
                    restore()


def _setting(read: Callable[[], Any], write: Callable[[Any], Any]) -> Callable[[], Restore]:
    """How to look at something that is read and written by two functions."""

    def look() -> Restore:
        before = read()

        def restore() -> None:
            if read() != before:
                write(before)

        return restore

    return look


def _folder() -> Restore:
    try:
        before = os.getcwd()
    except OSError:  # It was removed, and there is no way back to it.
        return lambda: None

    def restore() -> None:
        try:
            now = os.getcwd()
        except OSError:
            now = ""
        if now != before:
            os.chdir(before)

    return restore


def _permissions_of_new_files() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask


def _signals() -> Restore:
    """Signals, and the alarm clock; only the main thread may set them."""
    if threading.current_thread() is not threading.main_thread():
        return lambda: None
    numbers = [getattr(signal, name) for name in SIGNALS if hasattr(signal, name)]
    before = {number: signal.getsignal(number) for number in numbers}
    clock = getattr(signal, "setitimer", None)
    alarm = signal.getitimer(signal.ITIMER_REAL) if clock else None

    def restore() -> None:
        for number, handler in before.items():
            # What was not set from Python cannot be set back.
            if handler is not None and signal.getsignal(number) is not handler:
                signal.signal(number, handler)
        if clock and alarm == (0.0, 0.0):
            clock(signal.ITIMER_REAL, 0.0)

    return restore


def _environment() -> Restore:
    before = dict(os.environ)

    def restore() -> None:
        now = dict(os.environ)
        if now == before:
            return
        os.environ.clear()
        os.environ.update(before)
        if now.get("TZ") != before.get("TZ") and hasattr(time, "tzset"):
            time.tzset()

    return restore


def _errors_of_numpy() -> Restore:
    numpy = sys.modules.get("numpy")
    before = numpy.geterr() if numpy else USUAL_ERRORS_OF_NUMPY

    def restore() -> None:
        loaded = sys.modules.get("numpy")
        if loaded is not None and loaded.geterr() != before:
            loaded.seterr(**before)

    return restore


def _other_standard_files() -> Restore:
    """Files under these numbers; one that was closed would be given to the next file opened."""
    copies = {}
    for number in OTHER_STANDARD_FILES:
        with suppress(OSError):
            copies[number] = os.dup(number)

    def restore() -> None:
        for number, copy in copies.items():
            os.dup2(copy, number)
            os.close(copy)

    return restore


_LOOKS = (
    _folder,
    _setting(_permissions_of_new_files, os.umask),
    _setting(sys.getrecursionlimit, sys.setrecursionlimit),
    _setting(sys.get_int_max_str_digits, sys.set_int_max_str_digits),
    _setting(sys.gettrace, sys.settrace),
    _setting(
        lambda: locale.setlocale(locale.LC_ALL), lambda old: locale.setlocale(locale.LC_ALL, old)
    ),
    _signals,
    _environment,
    _errors_of_numpy,
    _other_standard_files,
)
