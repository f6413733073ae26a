"""Text files of the user: read whole, saved whole or not at all, and searched for a key's line."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from assess.base.errors import JobFileError, did_you_mean

MOST_BYTES = 5_000_000
LONGEST_WAIT_S = 10.0
"""How long to wait for another program that is saving the same file."""


def read_text(path: Path) -> str:
    """The text of a job file, refusing what cannot be one."""
    try:
        if path.is_dir():
            raise JobFileError(f"{path}: is a folder, not a job file")
        if path.stat().st_size > MOST_BYTES:
            raise JobFileError(f"{path}: larger than any job file ({MOST_BYTES:,} bytes at most)")
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        near = [n for n in names_beside(path) if Path(n).suffix == (path.suffix or ".toml")]
        hint = f"; {did_you_mean(path.name, near)}" if near else ""
        raise JobFileError(f"{path}: there is no such file{hint}") from error
    except UnicodeDecodeError as error:
        raise JobFileError(f"{path}: not a text file in UTF-8 (byte {error.start})") from error
    except OSError as error:
        raise JobFileError(f"{path}: cannot be read: {error.strerror}") from error


def names_beside(path: Path) -> list[str]:
    """What lies in the folder where a file should be."""
    return [p.name for p in path.parent.iterdir()] if path.parent.is_dir() else []


def line_of(text: str, keys: tuple[str, ...]) -> int | None:
    r"""The line, from 1, on which a key of a TOML text is, where that is known.

    >>> line_of("format = 1\n[owner]\nwish = 'full'", ("owner", "wish"))
    3
    """
    if not keys:
        return None
    table: tuple[str, ...] = ()
    found = None
    for number, line in enumerate(text.splitlines(), 1):
        header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        if header:
            table = tuple(part.strip().strip("\"'") for part in header[1].split("."))
            if table == keys:
                return number
            if keys == table[: len(keys)] and found is None:
                found = number
            continue
        assignment = re.match(r"\s*([\w.\"'-]+)\s*=", line)
        if assignment:
            path = table + tuple(part.strip("\"'") for part in assignment[1].split("."))
            if path == keys:
                return number
            if path == keys[: len(path)]:
                found = number
    return found


def edit_text(path: Path, change: Callable[[str], str]) -> str:
    """Read a file, change its text and save it, with nobody else between; the new text.

    Raises:
        JobFileError: it cannot be read or written, or another program holds it too long.
    """
    with held(path):
        text = change(read_text(path))
        save_text(path, text)
        return text


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Keep other programs of this machine from editing a file meanwhile.

    Raises:
        JobFileError: another program holds it for longer than :data:`LONGEST_WAIT_S`.
    """
    from filelock import FileLock, Timeout

    name = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:24]
    try:
        with FileLock(Path(tempfile.gettempdir()) / f"assess-{name}.lock", timeout=LONGEST_WAIT_S):
            yield
    except Timeout as error:
        raise JobFileError(f"{path}: another program is saving it; try again") from error


def save_text(path: Path, text: str) -> None:
    """Write a file whole or not at all.

    Raises:
        JobFileError: it cannot be written; the old file is untouched.
    """
    path = path.resolve()
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(temporary, path)
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    finally:
        if os.path.exists(temporary):
            os.unlink(temporary)
