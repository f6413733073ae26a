"""The user's files: read whole and bounded, changed and saved with nobody else between."""

from __future__ import annotations

import hashlib
import os
import stat
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from assess.base.errors import JobFileError, UserError, did_you_mean
from assess.base.whole_files import replace_file

MOST_BYTES = 5_000_000
LONGEST_WAIT_S = 10.0
"""How long to wait for another program that is saving the same file."""
MOST_TRIES = 5
"""How often an edit is made again when somebody else has saved the file meanwhile."""
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def read_text(path: Path, refused: type[UserError] = JobFileError) -> str:
    """The text of a file, refusing what cannot be one.

    Raises:
        UserError: of the given kind.
    """
    return _decoded(path, read_bytes(path, refused=refused), refused)


def read_bytes(
    path: Path, most: int = MOST_BYTES, refused: type[UserError] = JobFileError
) -> bytes:
    """The contents of an ordinary file. A pipe or a device is not waited for.

    Args:
        path: the file.
        most: how large it may be, in bytes.
        refused: the kind of error for a file that cannot be used.

    Raises:
        UserError: of the given kind.
    """
    try:
        handle = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
        try:
            mode = os.fstat(handle).st_mode
            if stat.S_ISDIR(mode):
                raise refused(f"{path}: is a folder, not a file")
            if not stat.S_ISREG(mode):
                raise refused(f"{path}: not an ordinary file")
            with open(handle, "rb", closefd=False) as file:
                data = file.read(most + 1)
        finally:
            os.close(handle)
    except FileNotFoundError as error:
        near = [n for n in _names_beside(path) if Path(n).suffix == (path.suffix or ".toml")]
        hint = f"; {did_you_mean(path.name, near)}" if near else ""
        raise refused(f"{path}: there is no such file{hint}") from error
    except OSError as error:
        raise refused(f"{path}: cannot be read: {error.strerror}") from error
    except ValueError:
        raise refused(f"{path}: no file can have that name") from None
    if len(data) > most:
        raise refused(f"{path}: larger than any such file ({most:,} bytes at most)")
    return data


def _decoded(path: Path, data: bytes, refused: type[UserError] = JobFileError) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refused(f"{path}: not a text file in UTF-8 (byte {error.start})") from error


def _names_beside(path: Path) -> list[str]:
    """What lies in the folder where a file should be, as far as that can be seen."""
    try:
        return os.listdir(path.parent)
    except (OSError, ValueError):
        return []


def named_beside(job: str | Path, named: str) -> Path:
    """A file that a job file names; it must lie in the folder of the job file.

    Raises:
        JobFileError: it lies elsewhere, or no file can have that name.
    """
    folder = Path(job).parent
    if "\0" in named:
        raise JobFileError(f"{named!r}: no file can have that name")
    path = folder / named
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        raise JobFileError(f"{named}: not in the folder of the job file; copy it there")
    return path


def keep_beside(job: Path, folder: str, names: Iterable[str], data: bytes) -> Path:
    """Write a new file into a folder of the job's own, under the first name that is free.

    Args:
        job: the job file; the folder lies beside it and has its name in front.
        folder: what the rest of the folder's name is.
        names: for the file, from the best.
        data: what it will hold.

    Returns:
        Where it lies.

    Raises:
        JobFileError: it cannot be written; then nothing is kept.
    """
    within = job.with_name(f"{job.stem}_{folder}")
    try:
        within.mkdir(exist_ok=True)
        if within.resolve() != job.parent.resolve() / within.name:
            raise JobFileError(f"{within}: leads to another folder; not written")
        with held(within):
            file = next(within / name for name in names if not os.path.lexists(within / name))
            replace_file(file, data)
    except OSError as error:
        _drop_if_empty(within)
        raise JobFileError(f"{within}: cannot be written: {error.strerror}") from error
    return file


def drop_beside(file: Path) -> None:
    """Take away what :func:`keep_beside` wrote, and its folder if nothing else is in it."""
    file.unlink(missing_ok=True)
    _drop_if_empty(file.parent)


def _drop_if_empty(folder: Path) -> None:
    with suppress(OSError):
        folder.rmdir()


def edit_text(path: Path, change: Callable[[str], str], *, may_be_new: bool = False) -> str:
    """Read a file, change its text and save it, with nobody else between; the new text.

    A program that does not ask whether the file is held, such as an editor, may save it
    meanwhile: then the change is made once more, on what it saved.

    Args:
        path: the file.
        change: gives the new text for the old one; where both are the same, nothing is written.
        may_be_new: where there is no such file, the old text is empty.

    Raises:
        JobFileError: it cannot be read or written, or another program holds it too long.
    """

    def read() -> bytes:
        return b"" if may_be_new and not os.path.exists(path) else read_bytes(path)

    with held(path):
        for _ in range(MOST_TRIES):
            old = read()
            was = _decoded(path, old)
            text = change(was)
            if read() == old:
                if text != was:
                    save_text(path, text, form=old)
                return text
    raise JobFileError(f"{path}: another program keeps saving it; try again")


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Keep other programs of this user from editing a file meanwhile.

    Raises:
        JobFileError: another program holds it for longer than :data:`LONGEST_WAIT_S`.
    """
    from filelock import FileLock, Timeout

    name = hashlib.sha256(os.path.realpath(path).encode(errors="surrogateescape")).hexdigest()[:24]
    user = os.getuid() if hasattr(os, "getuid") else 0
    lock = FileLock(Path(tempfile.gettempdir(), f"assess-{user}-{name}.lock"))
    try:
        lock.acquire(timeout=LONGEST_WAIT_S)
    except Timeout as error:
        raise JobFileError(f"{path}: another program is saving it; try again") from error
    except OSError as error:
        message = f"{path}: cannot be held while it is saved: {lock.lock_file}: {error.strerror}"
        raise JobFileError(message) from error
    try:
        yield
    finally:
        lock.release()


def save_text(path: Path, text: str, form: bytes = b"") -> None:
    """Write a file whole or not at all.

    Args:
        path: the file.
        text: what it will hold.
        form: what it held; its byte order mark and its line ends are kept.

    Raises:
        JobFileError: it cannot be written; the old file is untouched.
    """
    try:
        replace_file(path, _in_form_of(form, text))
    except UnicodeEncodeError as error:
        what = f"{error.object[error.start]!r} is no character"
        raise JobFileError(f"{path}: cannot be written: {what}") from None
    except OSError as error:
        raise JobFileError(f"{path}: cannot be written: {error.strerror}") from error
    except ValueError:
        raise JobFileError(f"{path}: no file can have that name") from None


def _in_form_of(old: bytes, text: str) -> bytes:
    """A text with the byte order mark and the line ends of what stood there."""
    only_crlf = b"\r\n" in old and b"\n" not in old.replace(b"\r\n", b"")
    if only_crlf:
        text = text.replace("\r\n", "\n").replace("\n", "\r\n")
    mark = BYTE_ORDER_MARK if old.startswith(BYTE_ORDER_MARK) else b""
    return mark + text.encode()
