"""Runs the command in forks of a process that has already imported it.

Started once by `conftest.py`. Each line on standard input is one call as JSON: ``arguments``,
``folder``, ``environment`` and ``streams``, the files that stand for standard input, output and
error. The answer is a line with the exit code. A fork is as apart from the next call as a fresh
interpreter, and spares its imports; it is taken from this process rather than from the one of the
tests, since libraries there may hold threads, which no fork survives.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import pkgutil
import sys
import traceback
from typing import Any

import assess
from assess.cli.commands import main
from assess.job.job_reading import parse
from assess.output.json_data import verdict_data


def warm() -> None:
    """Load what every command would load for itself."""
    for module in pkgutil.walk_packages(assess.__path__, "assess."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    # What follows from knowledge alone is tabulated once a process: by a job that asks for it all.
    knowledge = assess.knowledge_in_use()
    result = assess.assess(parse("format = 1", "", knowledge.trade), knowledge=knowledge)
    verdict_data(result)
    result.hidden("full")
    gc.freeze()


def run_command(call: dict[str, Any]) -> int:
    """Run one call in this process, which ends with it; its exit code."""
    for number, (path, mode) in enumerate(zip(call["streams"], ("rb", "wb", "wb"), strict=True)):
        with open(path, mode) as stream:
            os.dup2(stream.fileno(), number)
    sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    os.chdir(call["folder"])
    os.environ.clear()
    os.environ.update(call["environment"])
    sys.argv = ["assess", *call["arguments"]]
    try:
        main()
        code = 0
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    except BaseException:
        traceback.print_exc()
        code = 1
    sys.stdout.flush()
    sys.stderr.flush()
    return code


def serve() -> None:
    """Answer calls until standard input ends."""
    warm()
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            code = 1
            try:
                code = run_command(json.loads(line))
            finally:
                os._exit(code)
        _, status = os.waitpid(child, 0)
        print(os.waitstatus_to_exitcode(status), flush=True)


if __name__ == "__main__":
    serve()
