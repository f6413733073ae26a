"""The command that fills in a survey from recordings."""

from __future__ import annotations

import datetime as dt
import shlex
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError, did_you_mean
from assess.cli.options import DATE_OF_RECORDING, JOB, WITHOUT, WORKSHOP, HearCommand
from assess.cli.printing import error_terminal
from assess.cli.shared import load_job

if TYPE_CHECKING:
    from assess.knowledge.knowledge_base import Knowledge
    from assess.knowledge.surveys import HeardOption, Survey

STEPS = 1000
"""Of the progress bar, for each recording."""


@click.command(cls=HearCommand)
@JOB
@click.argument("recordings", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--survey", "name", metavar="SURVEY", help="Which survey, if there are several.")
@DATE_OF_RECORDING
@WORKSHOP
@WITHOUT
def hear(
    job: Path,
    recordings: tuple[Path, ...],
    name: str | None,
    day: dt.date,
    workshop: Path | None,
    **said: tuple[str, ...],
) -> None:
    """Fill in a survey from RECORDINGS of its sound.

    What is said of a recording is given once for all of them, or once for each, in their order.
    Rows that were heard are marked with date and file. What was entered by hand stays as it is;
    where it differs from what was heard, both are shown.
    """
    from assess.base.wording import counted
    from assess.visit.heard_surveys import enter_heard, hear_recording

    result = load_job(job, workshop)
    survey = _survey_to_hear(result.knowledge, name)
    options = _said_of_recordings(survey, said, len(recordings))
    with _progress(len(recordings)) as progress:
        heard = [
            (one, hear_recording(result, survey, one, options[number], progress(number)))
            for number, one in enumerate(recordings)
        ]
    entered = enter_heard(result, survey, heard, day)
    for recording, found in heard:
        click.echo("\n".join((f"{recording.name}:", *(f"  {line}" for line in found.says))))
    for one in entered.differences:
        click.echo(f"Kept {one.key} as entered by hand: {one.by_hand}. Heard: {one.heard}.")
    click.echo(f"{counted(entered.rows, 'row')} entered in {shlex.quote(str(entered.path))}.")


@contextmanager
def _progress(recordings: int) -> Iterator[Callable[[int], Callable[[float], None]]]:
    """What shows the share that is done of each recording, by its number; on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda number: lambda share: None
        return
    with click.progressbar(
        length=STEPS * recordings, label="Listening", file=error_terminal()
    ) as bar:

        def of(number: int) -> Callable[[float], None]:
            return lambda share: bar.update(int(STEPS * (number + share)) - bar.pos)

        yield of


def _survey_to_hear(knowledge: Knowledge, name: str | None) -> Survey:
    """The survey that is filled in."""
    known = {s.id: s for s in knowledge.surveys.values() if s.hears}
    if not known:
        raise UserError("no installed plugin can hear recordings")
    if name is None and len(known) == 1:
        return next(iter(known.values()))
    if name is None or name not in known:
        raise UserError(
            f"--survey: no such survey {name or ''!r}; {did_you_mean(name or '', known)}"
        )
    return known[name]


def _said_of_recordings(
    survey: Survey, said: Mapping[str, Sequence[str]], recordings: int
) -> list[dict[str, str]]:
    """For each recording, the declared options with what was said, or the usual."""
    options = survey.hears.options if survey.hears else ()
    given = {o.id: _of_each(o, said.get(f"heard_{o.id}", ()), recordings) for o in options}
    return [{name: words[number] for name, words in given.items()} for number in range(recordings)]


def _of_each(option: HeardOption, words: Sequence[str], recordings: int) -> list[str]:
    """What is said of each recording by one option."""
    name = f"--{option.id.replace('_', '-')}"
    if len(words) not in (0, 1, recordings):
        raise UserError(
            f"{name}: given {len(words)} times for {recordings} recordings; give it once, or once "
            "for each"
        )
    each = list(words) if len(words) == recordings else [*words, ""][:1] * recordings
    each = [word.strip() or option.usual for word in each]
    if option.required and not all(each):
        raise UserError(f"give {name}: {option.says}")
    return each
