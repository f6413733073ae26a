"""Declarations kept in the cache: as if read afresh, and never trusted when anything differs."""

from __future__ import annotations

import pickle
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from assess.base.errors import DeclarationError
from assess.knowledge import declaration_cache, toml_loader
from assess.knowledge.declaration import Declaration
from assess.knowledge.toml_loader import read_declaration
from assess.plugin.registry import Provider, declared_by

TOY = Path(__file__).parents[1] / "toy_world" / "wheels.toml"
PACKAGE = "kept_wheels"
PLUGIN = """
from assess import hookimpl, read_declaration

@hookimpl
def subsystem():
    return read_declaration(__name__)
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An importable plugin, and an empty cache."""
    package = tmp_path / PACKAGE
    package.mkdir()
    (package / "__init__.py").write_text(PLUGIN, encoding="utf-8")
    (package / "wheels.toml").write_bytes(TOY.read_bytes())
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setenv(declaration_cache.VARIABLE, str(tmp_path / "cache"))
    monkeypatch.delitem(sys.modules, PACKAGE, raising=False)
    return tmp_path


def loaded() -> Declaration:
    """The checked declaration, as the registry gets it."""
    module = __import__(PACKAGE)
    return declared_by(module, Provider(PACKAGE)).declaration


def files(folder: Path) -> list[Path]:
    return sorted((folder / "cache").glob(f"{PACKAGE}-*"))


def refuse(*_: object) -> None:
    raise AssertionError("the files are read again")


def test_what_was_checked_is_not_read_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = loaded()
    assert len(files(folder)) == 1
    monkeypatch.setattr(toml_loader, "_read", refuse)
    again = loaded()
    assert again is not first
    assert again == first
    assert repr(again) == repr(first)
    assert again.model_dump_json() == first.model_dump_json()
    assert read_declaration(PACKAGE) != again, "a plugin gets its own short ids"


def test_a_changed_file_is_read(folder: Path) -> None:
    loaded()
    toml = folder / PACKAGE / "wheels.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace('title = "', 'title = "New ', 1), encoding="utf-8")
    assert loaded().subsystem is not None
    assert "New " in loaded().model_dump_json()
    assert len(files(folder)) == 2
    toml.write_text("[[repair]\n", encoding="utf-8")
    with pytest.raises(DeclarationError, match=r"wheels\.toml"):
        read_declaration(PACKAGE)


def open_to_others(path: Path) -> None:
    path.chmod(0o666)


def linked(path: Path) -> None:
    path.rename(path.parent / "elsewhere")
    path.symlink_to(path.parent / "elsewhere")


def cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-1])


def changed(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"wheels", b"whee1s", 1))


def other(path: Path) -> None:
    declaration_cache._write(path, ["no declaration"])


def harmful(path: Path) -> None:
    """A pickle that would run code, without the hash of its contents in front."""
    path.write_bytes(bytes(20) + b"cos\nabort\n(tR.")


def folder_open_to_others(path: Path) -> None:
    path.parent.chmod(0o777)


@pytest.mark.parametrize(
    "spoil",
    [open_to_others, linked, cut_short, changed, other, harmful, folder_open_to_others],
)
def test_what_is_not_as_it_was_written_is_not_trusted(
    folder: Path, spoil: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = loaded()
    (path,) = files(folder)
    spoil(path)
    read = []
    fresh = toml_loader._read
    monkeypatch.setattr(toml_loader, "_read", lambda *a: read.append(a) or fresh(*a))
    assert loaded() == first
    assert read


def test_no_folder_and_no_wish_to_keep_are_no_faults(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(declaration_cache.VARIABLE, "")
    first = loaded()
    assert not (folder / "cache").exists()
    (folder / "a file").touch()
    monkeypatch.setenv(declaration_cache.VARIABLE, str(folder / "a file"))
    assert loaded() == first


def test_only_some_versions_are_kept(folder: Path) -> None:
    toml = folder / PACKAGE / "wheels.toml"
    for number in range(declaration_cache.KEPT_OF_EACH + 3):
        with toml.open("a", encoding="utf-8") as file:
            file.write(f"# {number}\n")
        loaded()
    assert len(files(folder)) == declaration_cache.KEPT_OF_EACH


def test_results_are_kept_under_the_digest_of_all_declarations(folder: Path) -> None:
    digest = declaration_cache.digest_of([loaded()])
    assert digest
    assert not declaration_cache.digest_of([loaded(), read_declaration_of_toy()])
    assert declaration_cache.kept_result("sum", digest, lambda: 3) == 3
    assert declaration_cache.kept_result("sum", digest, lambda: 4) == 3
    assert declaration_cache.kept_result("sum", digest + "0", lambda: 4) == 4
    assert declaration_cache.kept_result("sum", "", lambda: 5) == 5


def test_a_pickled_model_is_the_same_model() -> None:
    first = read_declaration_of_toy()
    again = pickle.loads(pickle.dumps(first))
    assert again == first
    assert again.repair[0].model_copy(update={"title": "Other"}).title == "Other"
    with pytest.raises(Exception, match="frozen"):
        again.repair[0].title = "Other"


def read_declaration_of_toy() -> Declaration:
    import tomli

    return Declaration.model_validate(tomli.loads(TOY.read_text(encoding="utf-8")))
