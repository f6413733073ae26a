"""What a start loads: only what the command needs, and matrix products on one thread."""

from __future__ import annotations

import subprocess
import sys

import pytest
from conftest import clean_environment

import assess

HEAVY = "{'numpy', 'networkx', 'highspy', 'pydantic', 'tabulate', 'jinja2', 'flask'}"


def printed(code: str, **environment: str) -> str:
    inherited = {n: v for n, v in clean_environment().items() if not n.endswith("NUM_THREADS")}
    found = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**inherited, **environment},
    )
    return found.stdout.strip()


def test_every_public_name_is_there() -> None:
    for name in assess.__all__:
        assert getattr(assess, name) is not None
    assert set(assess.__all__) <= set(dir(assess))
    with pytest.raises(AttributeError, match="no attribute 'aseess'"):
        _ = assess.aseess


def test_the_version_loads_no_library_but_that_of_commands() -> None:
    code = f"import sys; import assess.cli.commands; print({HEAVY} & set(sys.modules))"
    assert printed(code) == "set()"


def test_grades_wait_for_no_arrays_graphs_or_solver() -> None:
    path = str(assess.__path__[0])
    job = f"{path}/../fixtures/one_strap.toml"
    code = (
        "import sys; from assess.cli.commands import main\n"
        f"main(['grade', {job!r}], standalone_mode=False)\n"
        "mine = {'assess.planning.planner', 'assess.output.json_data'}\n"
        "print(({'numpy', 'networkx', 'highspy', 'jinja2'} | mine) & set(sys.modules))"
    )
    assert printed(code).splitlines()[-1] == "set()"


def test_matrix_products_use_one_thread_unless_the_user_says_otherwise() -> None:
    code = "import os, assess; print(os.environ.get('OPENBLAS_NUM_THREADS'))"
    assert printed(code) == "1"
    assert printed(code, OPENBLAS_NUM_THREADS="3") == "3"
    assert printed(code, OMP_NUM_THREADS="2") == "None", "another variable says how many"
    assert printed(f"import numpy; {code}") == "None", "too late to change anything"
