"""Files replaced whole or not at all, with everything kept that a person set on them.

The new contents are written to a file beside the old one, which then takes its place. Names,
owner, group and permissions stay. What a killed program left behind is removed by the next save
in the same folder.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
import time
from pathlib import Path

MARK = ".assess-"
"""What the names of files begin with that are being written."""
LEFT_BEHIND_S = 600.0
"""After so many seconds a file that is being written was left behind."""
POSIX = os.name == "posix"


def replace_file(path: Path, data: bytes) -> None:
    """Write a file whole or not at all.

    A symbolic link stays one. A file that has several names, or an owner who cannot be given to
    another file, is written in place. A new file gets the permissions that the user's mask says.

    Raises:
        OSError: it cannot be written, or must not be; the old file is untouched.
    """
    path = Path(os.path.realpath(path))
    old = _old(path)
    handle, temporary = begin_beside(path, new=old is None)
    try:
        with open(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if old is None or (old.st_nlink == 1 and _taken_over(temporary, old)):
            os.replace(temporary, path)
        else:
            _write_in_place(path, data, old.st_size)
        _sync(path.parent)
    finally:
        temporary.unlink(missing_ok=True)


def begin_beside(path: Path, *, new: bool = False, suffix: str = ".tmp") -> tuple[int, Path]:
    """Open a file to write beside another, and remove what was left behind in its folder.

    Args:
        path: the file beside which it is.
        new: the user's mask says who may read it; else only the user may.
        suffix: what its name ends with.

    Returns:
        The open file, and its path.

    Raises:
        OSError: none can be written there.
    """
    _remove_left_behind(path.parent)
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    temporary = path.with_name(f"{MARK}{secrets.token_hex(8)}{suffix}")
    return os.open(temporary, flags, 0o666 if new else 0o600), temporary


def _old(path: Path) -> os.stat_result | None:
    """What is known of the file that is there; None where there is none.

    Raises:
        OSError: it is not to be overwritten.
    """
    try:
        old = path.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(old.st_mode):
        raise IsADirectoryError(errno.EISDIR, "it is a folder")
    if not stat.S_ISREG(old.st_mode):
        raise OSError(errno.EINVAL, "it is not an ordinary file")
    # The superuser may write everything, but did not mark a file as read-only for nothing.
    if not old.st_mode & 0o222 or not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, "it is read-only")
    return old


def _taken_over(temporary: Path, old: os.stat_result) -> bool:
    """Give owner, group and permissions of a file to another; whether that was allowed."""
    if not POSIX:
        os.chmod(temporary, stat.S_IMODE(old.st_mode))
        return True
    now = temporary.stat()
    try:
        if (now.st_uid, now.st_gid) != (old.st_uid, old.st_gid):
            os.chown(temporary, old.st_uid, old.st_gid)
        os.chmod(temporary, stat.S_IMODE(old.st_mode))
    except PermissionError:
        return False
    return stat.S_IMODE(temporary.stat().st_mode) == stat.S_IMODE(old.st_mode)


def _write_in_place(path: Path, data: bytes, size: int) -> None:
    """Write over a text file, so that a kill at any moment leaves the old or the new text.

    Room is made first, since there may be none; then the text goes down in one piece. Until the
    file has its length, it ends with blank lines.
    """
    handle = os.open(path, os.O_RDWR | getattr(os, "O_BINARY", 0))
    try:
        try:
            _write_at(handle, b"\n" * (len(data) - size), size)
        except OSError:
            os.ftruncate(handle, size)
            raise
        _write_at(handle, data + b"\n" * (size - len(data)), 0)
        os.ftruncate(handle, len(data))
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_at(handle: int, data: bytes, position: int) -> None:
    os.lseek(handle, position, os.SEEK_SET)
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(handle, rest) :]


def _remove_left_behind(folder: Path) -> None:
    """Remove files that a program which was killed had begun to write."""
    before = time.time() - LEFT_BEHIND_S
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.startswith(MARK):
                with contextlib.suppress(OSError):
                    if entry.stat(follow_symlinks=False).st_mtime < before:
                        os.unlink(entry.path)


def _sync(folder: Path) -> None:
    """Have a folder's names written to the disk, where the system can."""
    if POSIX:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
