"""JSON Schemas: the kept files are as their models make them, and everything printed obeys them."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, Run, golden
from jsonschema import Draft202012Validator

import assess
from assess.output.schemas import generated, job_schema, schema_names, schema_text

KEPT = ROOT / "assess" / "output" / "json_schemas"
FIXTURES = sorted((ROOT / "fixtures").glob("*.toml"))
CASES = sorted((ROOT / "tests" / "cases").glob("*.toml"))
COMMANDS: dict[str, list[str]] = {
    "grade": ["grade"],
    "plan": ["plan", "--scope", "full"],
    "verdict": ["verdict"],
    "look": ["look"],
    "look-assumed": ["look", "--assumed"],
    "budget": ["budget"],
    "calendar": ["calendar", "--start", "2027-01-11"],
    "measure": ["measure"],
    "sheet": ["sheet"],
    "why": ["why"],
}


@cache
def validator(text: str) -> Draft202012Validator:
    schema = json.loads(text)
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


@cache
def schema_of_jobs() -> str:
    return json.dumps(job_schema(assess.knowledge_in_use()))


def as_data(path: Path) -> Any:
    """A TOML file as the plain data that a schema speaks of: dates are text."""
    return json.loads(json.dumps(tomllib.loads(path.read_text("utf-8")), default=str))


@pytest.mark.parametrize("name", schema_names())
def test_the_kept_schemas_are_as_their_models_make_them(name: str) -> None:
    """Refresh with ``UPDATE_GOLDEN=1 pytest tests/test_schemas.py``."""
    assert golden(KEPT / f"{name}.json", generated(name)) == generated(name) == schema_text(name)


def test_there_is_a_schema_of_every_output_and_no_other_file() -> None:
    assert {path.stem for path in KEPT.iterdir()} == set(schema_names())
    assert set(COMMANDS) | {"declaration", "job", "workshop", "subsystems", "check"} == set(
        schema_names()
    )


SLOW = {"budget": 3}
"""Of what takes long, how many fixtures are tried."""
OUTPUTS = [
    pytest.param(name, job, id=f"{name}-{job.stem}")
    for name in COMMANDS
    for job in FIXTURES[: SLOW.get(name, len(FIXTURES))]
]


@pytest.mark.parametrize(("name", "job"), OUTPUTS)
def test_every_output_of_every_fixture_obeys_its_schema(run: Run, name: str, job: Path) -> None:
    command, *options = COMMANDS[name]
    arguments = {"budget": ["2500"], "why": ["verdict"]}.get(name, [])
    done = run(command, job, *arguments, *options, "--json")
    assert done.returncode == 0, done.stderr
    validator(schema_text(name)).validate(json.loads(done.stdout))


def test_lists_and_checks_obey_theirs(run: Run) -> None:
    for name, arguments in (("subsystems", []), ("check", FIXTURES[:2])):
        done = run(name, *arguments, "--json")
        validator(schema_text(name)).validate(json.loads(done.stdout))


@pytest.mark.parametrize("job", [*FIXTURES, *CASES], ids=lambda p: p.stem)
def test_every_job_file_obeys_the_schema_of_the_job_file(job: Path) -> None:
    validator(schema_of_jobs()).validate(as_data(job))


@pytest.mark.parametrize(
    "wrong",
    [
        {"format": 2},
        {"format": 1, "owners": {}},
        {"format": 1, "owner": {"wish": "working"}},
        {"format": 1, "instrument": {"features": {"wind": "sucks"}}},
        {"format": 1, "answers": {"pneumatics": {"straps": "brokn"}}},
        {"format": 1, "answers": {"pneumatics": {"strap": "broken or off"}}},
    ],
)
def test_the_schema_of_the_job_file_refuses_slips(wrong: dict[str, Any]) -> None:
    assert not validator(schema_of_jobs()).is_valid(wrong)


def test_declarations_obey_the_schema_of_declarations() -> None:
    found = 0
    for package in sorted((ROOT / "plugins").iterdir()):
        merged: dict[str, Any] = {}
        for file in sorted(package.glob("*.toml")):
            for key, value in tomllib.loads(file.read_text("utf-8")).items():
                merged[key] = merged.get(key, []) + value if isinstance(value, list) else value
        if merged:
            found += 1
            validator(schema_text("declaration")).validate(merged)
    assert found == 5


def test_the_default_profile_obeys_the_schema_of_the_profile() -> None:
    file = ROOT / "assess" / "job" / "workshop.toml"
    validator(schema_text("workshop")).validate(as_data(file))


def test_the_command_prints_them(run: Run) -> None:
    assert run("schema").stdout.split() == schema_names()
    assert json.loads(run("schema", "plan").stdout)["title"] == "assess plan --json"
    assert "straps" in run("schema", "job").stdout
    wrong = run("schema", "plans")
    assert wrong.returncode == 2
    assert 'did you mean "plan"?' in wrong.stderr
