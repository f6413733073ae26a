"""The command that fills in a survey from recordings."""

from __future__ import annotations

import datetime as dt
import shlex
import sys
from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assess.base.errors import UserError, did_you_mean
from assess.cli.options import JOB, WITHOUT, WORKSHOP, HearCommand
from assess.cli.shared import load_job

if TYPE_CHECKING:
    from assess.knowledge.declaration import Survey
    from assess.knowledge.knowledge_base import Knowledge


@click.command(cls=HearCommand)
@JOB
@click.argument("recordings", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--survey", "name", metavar="SURVEY", help="Which survey, if there are several.")
@click.option(
    "--date",
    "day",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day of the recording; else today.",
)
@WORKSHOP
@WITHOUT
def hear(
    job: Path,
    recordings: tuple[Path, ...],
    name: str | None,
    day: dt.datetime | None,
    workshop: Path | None,
    **said: str,
) -> None:
    """Fill in a survey from RECORDINGS of its sound, as WAV files.

    Rows that were heard are marked with date and file. Rows entered by hand stay as they are;
    where they differ from what was heard, both are shown.
    """
    from assess.base.wording import counted
    from assess.pages.visit_data import survey_path
    from assess.visit.heard_surveys import enter_heard, hear_recording

    result = load_job(job, workshop)
    survey = _survey_to_hear(result.knowledge, name)
    options = _said_of_recording(survey, said)
    with _progress(recordings) as progress:
        heard = [(one, hear_recording(result, survey, one, options)) for one in progress]
    on = day.date() if day else dt.date.today()
    entered = enter_heard(result, survey, survey_path(result, survey.id), heard, on)
    for recording, found in heard:
        click.echo("\n".join((f"{recording.name}:", *(f"  {line}" for line in found.says))))
    for one in entered.differences:
        click.echo(f"Kept {one.key} as entered by hand: {one.by_hand}. Heard: {one.heard}.")
    click.echo(f"{counted(entered.rows, 'row')} entered in {shlex.quote(str(entered.path))}.")


def _progress(recordings: tuple[Path, ...]) -> AbstractContextManager[Iterable[Path]]:
    """The recordings, with a bar on a terminal."""
    if not sys.stderr.isatty():
        return nullcontext(recordings)
    return click.progressbar(recordings, label="Listening", file=sys.stderr, show_pos=True)


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


def _said_of_recording(survey: Survey, said: dict[str, str]) -> dict[str, str]:
    """The declared options with what was said, or the usual."""
    options = survey.hears.options if survey.hears else ()
    given = {o.id: said.get(f"heard_{o.id}", "") or o.usual for o in options}
    missing = [o for o in options if o.required and not given[o.id].strip()]
    if missing:
        raise UserError(f"give --{missing[0].id.replace('_', '-')}: {missing[0].says}")
    return given
