"""From a recording to the verdict: what follows from hearing is what follows from the truth."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from sound_model import Played, Room, recording, tempered, write_wav

import assess
from assess.assessment import Assessment
from assess.cli.commands import main

NAMES = "C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4 C5 C#5 D5 Eb5 E5 F5".split()  # noqa: SIM905
FACTS = "format = 1\n[instrument.facts]\nreeds = 18\n"
BLANK = "format = 1\n"
SILENT, FLAT, SLOW = 62, 68, 73
ROOM = Room(period_s=1.3, gap_s=0.12, clicks=4)


def reeds() -> list[Played]:
    """Eighteen reeds 20 cents below the tuner: one silent, one far off its rank, one slow."""
    return [
        Played(
            key,
            None if key == SILENT else tempered(key),
            -50.0 if key == FLAT else -20.0 + 0.7 * ((key * 7) % 11 - 5),
            slow=16.0 if key == SLOW else 0.3,
        )
        for key in range(60, 60 + len(NAMES))
    ]


def by_hand(folder: Path) -> Assessment:
    """The job with the truth typed in."""
    lines = ["note,rank,feet,speech,cents"]
    for name, reed in zip(NAMES, reeds(), strict=True):
        speech = {SILENT: "dead", SLOW: "slow"}.get(reed.key, "speaks")
        lines.append(f"{name},Viola,8,{speech},{'' if reed.hz is None else reed.cents}")
    (folder / "typed.csv").write_text("\n".join(lines), encoding="utf-8")
    job = folder / "typed.toml"
    job.write_text(FACTS + '[surveys]\n"reeds.notes" = "typed.csv"\n', encoding="utf-8")
    return assess.assess(assess.load(job))


def heard(folder: Path) -> Assessment:
    """The job with the reeds as they are heard, in two recordings that overlap."""
    every = reeds()
    for name, played, seed in (("low", every[:10], 1), ("high", every[8:], 2)):
        write_wav(folder / f"{name}.wav", recording(played, ROOM, seed))
    job = folder / "heard.toml"
    job.write_text(FACTS, encoding="utf-8")
    arguments = ["hear", str(job), str(folder / "low.wav"), str(folder / "high.wav")]
    said = ["--stop", "Viola", "--feet", "8", "--from", "C4", "--from", "Ab4"]
    done = CliRunner().invoke(main, [*arguments, *said])
    assert done.exit_code == 0, done.output
    assert "Silent, and there was time for them: D4." in done.output
    assert "18 rows entered" in done.output
    return assess.assess(assess.load(job))


def test_hearing_leads_to_the_same_findings_hours_and_tuning(tmp_path: Path) -> None:
    truth, ours = by_hand(tmp_path), heard(tmp_path)
    values = {n: m for n, m in truth.measured.values.items() if n.startswith("reeds.")}
    assert len(values) >= 10
    for name, value in values.items():
        found = ours.measured.values[name].value
        near = None if value.value is None else pytest.approx(value.value, abs=0.8)
        assert found == near, name
    assert ours.graded.instrument == truth.graded.instrument
    for scope, plan in truth.plans.items():
        mine = ours.plans[scope]
        assert [step.step for step in mine.steps] == [step.step for step in plan.steps]
        assert mine.estimate == plan.estimate
    sheet, right = (r.sheets["reeds.tuning_sheet"] for r in (ours, truth))
    assert sheet.columns == right.columns
    assert [row[0] for row in sheet.rows] == [row[0] for row in right.rows]
    assert ours.verdict.likely == truth.verdict.likely
    assert ours.verdict.plan_scope == truth.verdict.plan_scope


@pytest.mark.parametrize("data", [b"", b"RIFF", bytes(3000), b"fLaC" + bytes(3000)])
def test_a_file_that_is_no_recording_is_one_line_and_changes_nothing(
    tmp_path: Path, data: bytes
) -> None:
    job, take = tmp_path / "job.toml", tmp_path / "take.wav"
    job.write_text(BLANK, encoding="utf-8")
    take.write_bytes(data)
    done = CliRunner().invoke(main, ["hear", str(job), str(take), "--stop", "Viola"])
    assert done.exit_code == 2
    assert len(done.output.strip().splitlines()) == 1
    assert "take.wav: " in done.output
    assert job.read_text(encoding="utf-8") == BLANK
    assert {file.name for file in tmp_path.iterdir()} == {"job.toml", "take.wav"}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ((), "give --stop: The stop that was played, alone."),
        (("--stop", "Viola", "--feet", "7"), "--feet: '7' is not one of"),
        (("--stop", "A", "--stop", "B", "--stop", "C"), "--stop: given 3 times for 2 recordings"),
    ],
)
def test_what_is_not_said_of_a_recording_is_named(
    tmp_path: Path, said: tuple[str, ...], words: str
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(BLANK, encoding="utf-8")
    done = CliRunner().invoke(main, ["hear", str(job), "a.wav", "b.wav", *said])
    assert done.exit_code == 2
    assert words in done.output
