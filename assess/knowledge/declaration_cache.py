"""Declarations that were read and checked before, kept in the user's cache folder.

Reading the TOML of all plugins and checking every key takes most of the time of a short command.
What was checked is kept under a hash of everything that it follows from: the contents of the
plugin's files, the engine's own code, and the versions of Python and pydantic. So a changed
file is always read again, and the folder may be deleted at any time. So is what follows from all
declarations together and takes long to work out.

A kept declaration is a pickle, which could run code. So only a file is opened that belongs to the
user, in a folder that belongs to the user, both closed to others' writing; and its contents must
have the hash that stands at its head. Where no such folder can be made, nothing is kept.

``ASSESS_CACHE`` names another folder; empty, it switches the cache off.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import os
import pickle
import stat
import sys
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from pydantic import VERSION as PYDANTIC

from assess.base.whole_files import begin_beside
from assess.knowledge.declaration import Declaration

R = TypeVar("R")

VARIABLE = "ASSESS_CACHE"
HASH_BYTES = 20
CODE = ("base", "knowledge", "plugin", "uncertainty")
"""Folders of the engine whose code decides what is kept."""
KEPT_OF_EACH = 4
"""Files of one plugin: of several versions that are used in turn."""


class Kept(NamedTuple):
    """A declaration as its files say it, and with all references written in full, checked."""

    declared: Declaration
    checked: Declaration


class _Read(NamedTuple):
    declared: Declaration
    path: Path
    checked: Declaration | None


_READ: dict[int, _Read] = {}
"""What was read in this process, by the identity of what the plugin was given."""
_CHECKED: dict[int, _Read] = {}
"""The same, by the identity of the checked form."""


def kept_declaration(package: str, files: Iterable[tuple[str, bytes]]) -> Declaration | None:
    """What the files of a package declare, if that was read and checked before.

    Args:
        package: the plugin's package.
        files: name and contents of each of its files, in order.
    """
    path = _path(package, files)
    found = _loaded(path) if path else None
    if path is None or not isinstance(found, Kept):
        return None
    _note(_Read(found.declared, path, found.checked))
    return found.declared


def note_read(package: str, files: Iterable[tuple[str, bytes]], declared: Declaration) -> None:
    """Remember from which files a declaration was read, so that it can be kept once checked."""
    path = _path(package, files)
    if path is not None:
        _note(_Read(declared, path, None))


def checked_before(declared: Declaration) -> Declaration | None:
    """The checked form of a declaration, if it was kept."""
    found = _READ.get(id(declared))
    return found.checked if found else None


def keep(declared: Declaration, checked: Declaration) -> None:
    """Keep a declaration that was read from files and is sound; failing to is no fault."""
    found = _READ.get(id(declared))
    if found is not None:
        _note(found._replace(checked=checked))
        _write(found.path, Kept(declared, checked))


def digest_of(checked: Iterable[Declaration]) -> str:
    """A hash of all that some checked declarations follow from; empty where one is not kept."""
    found = [_CHECKED.get(id(declaration)) for declaration in checked]
    names = [read.path.name for read in found if read is not None]
    if not names or len(names) < len(found):
        return ""
    return hashlib.blake2b(" ".join(names).encode(), digest_size=HASH_BYTES).hexdigest()


def kept_result(name: str, digest: str, work_out: Callable[[], R]) -> R:
    """What follows from declarations alone, kept beside them.

    Args:
        name: of what it is.
        digest: of the declarations, and of all else that it depends on; empty to keep nothing.
        work_out: gives it, where it is not kept.
    """
    folder = _folder()
    if not digest or folder is None:
        return work_out()
    path = folder / f"{name}-{digest}"
    found = _loaded(path)
    if isinstance(found, _Result):
        result: R = found.value
        return result
    value = work_out()
    _write(path, _Result(value))
    return value


class _Result(NamedTuple):
    value: Any


def _note(read: _Read) -> None:
    _READ[id(read.declared)] = read
    if read.checked is not None:
        _CHECKED[id(read.checked)] = read


def _path(package: str, files: Iterable[tuple[str, bytes]]) -> Path | None:
    folder = _folder()
    if folder is None:
        return None
    digest = hashlib.blake2b(_code(), digest_size=HASH_BYTES)
    for name, contents in files:
        digest.update(f"{name} {len(contents)} ".encode())
        digest.update(contents)
    return folder / f"{package}-{digest.hexdigest()}"


@cache
def _code() -> bytes:
    """A hash of the code that reads and checks declarations."""
    digest = hashlib.blake2b(f"{sys.version} {PYDANTIC}".encode(), digest_size=HASH_BYTES)
    here = Path(__file__).parent
    for folder in CODE:
        for path in sorted((here.parent / folder).glob("*.py")):
            digest.update(path.read_bytes())
    return digest.digest()


def _folder() -> Path | None:
    """Where declarations are kept; None where they are not."""
    named = os.environ.get(VARIABLE)
    if named == "" or not hasattr(os, "getuid"):
        return None
    if named:
        return Path(named)
    try:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    except RuntimeError:
        return None
    return Path(base) / "reed-organ-assess"


def _loaded(path: Path) -> object:
    try:
        if not (_is_ours(path.parent) and _is_ours(path)):
            return None
        contents = path.read_bytes()
    except OSError:
        return None
    head, body = contents[:HASH_BYTES], contents[HASH_BYTES:]
    if hashlib.blake2b(body, digest_size=HASH_BYTES).digest() != head:
        return None
    collects = gc.isenabled()
    gc.disable()
    try:
        return pickle.loads(body)
    except Exception:
        # A pickle of other code may fail in any way; then the files are read.
        return None
    finally:
        if collects:
            gc.enable()


def _is_ours(path: Path) -> bool:
    found = path.lstat()
    kind = stat.S_ISDIR(found.st_mode) or stat.S_ISREG(found.st_mode)
    return kind and found.st_uid == os.getuid() and not found.st_mode & 0o022


def _write(path: Path, value: object) -> None:
    """Keep a value; where that fails, it is worked out again the next time."""
    body = pickle.dumps(value, pickle.HIGHEST_PROTOCOL)
    with contextlib.suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_ours(path.parent):
            return
        handle, temporary = begin_beside(path)
        try:
            with open(handle, "wb") as file:
                file.write(hashlib.blake2b(body, digest_size=HASH_BYTES).digest() + body)
            temporary.replace(path)
        finally:
            temporary.unlink(missing_ok=True)
        _leave_the_newest(path)


def _leave_the_newest(path: Path) -> None:
    alike = path.parent.glob(f"{path.name.rpartition('-')[0]}-*")
    for old in sorted(alike, key=lambda p: p.stat().st_mtime)[:-KEPT_OF_EACH]:
        old.unlink(missing_ok=True)
