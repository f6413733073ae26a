"""What was heard in a recording of one stop, as rows of the reed survey."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from assess import Heard, HeardRow, Inspection, JobFileError
from assess_reeds.pitch import (
    CENTS_PER_SEMITONE,
    CONCERT_A_HZ,
    FOOTAGE_SEMITONES,
    midi_of,
    note_name,
    off_note_cents,
    sounding_midi,
)

if TYPE_CHECKING:
    from assess_reeds.hearing.listening import HeardKey, Hearing, Neighbours, Tone
    from assess_reeds.hearing.qualities import Beats

UNSURE_CENTS = 3.0
"""A pitch less sure than this is not entered: it would count as out of tune by chance."""
QUESTION_CENTS = 40.0
"""An instrument this far from the tuner's pitch may as well have been started on another key."""


def hear(
    survey: str,
    recording: Path,
    options: Mapping[str, str],
    inspection: Inspection,
    progress: Callable[[float], None],
) -> Heard:
    """Rows of the reed survey from a recording of one stop played upwards, key by key."""
    feet, first = _feet(options), _first(options)
    # numpy takes as long to import as everything else together.
    from assess_reeds.hearing.listening import listen

    found = listen(recording, feet, first, progress)
    tuner_a_hz = inspection.number("tuner_a", "Hz") or CONCERT_A_HZ
    key = {"unit": options.get("unit", ""), "rank": options["stop"], "feet": str(feet)}
    rows = tuple(_row(one, key, feet, tuner_a_hz) for one in found.keys)
    return Heard(rows, tuple(_says(found, first)))


def _feet(options: Mapping[str, str]) -> int:
    words = options.get("feet", "8").strip().removesuffix("ft").strip(" '")
    if not words.isdecimal() or int(words) not in FOOTAGE_SEMITONES:
        lengths = ", ".join(map(str, FOOTAGE_SEMITONES))
        raise JobFileError(f"--feet: {options['feet']!r} is not one of {lengths}")
    return int(words)


def _first(options: Mapping[str, str]) -> int | None:
    if "from" not in options:
        return None
    try:
        return midi_of(options["from"])
    except ValueError as error:
        raise JobFileError(f"--from: {error}") from None


def _row(one: HeardKey, key: Mapping[str, str], feet: int, tuner_a_hz: float) -> HeardRow:
    named = {"unit": key["unit"], "note": note_name(one.key), "rank": key["rank"]}
    named = {column: text for column, text in named.items() if text} | {"feet": key["feet"]}
    cells = {"speech": one.speech.value}
    if one.tone is None:
        return HeardRow(named, cells | {"heard": f"no sound for {one.silent_s:.1f} s"})
    pitch = one.tone.pitch
    if one.tone.sound.beats is None and pitch.sd_cents <= UNSURE_CENTS:
        cents = off_note_cents(pitch.hz, sounding_midi(one.key, feet), tuner_a_hz)
        cells |= {"cents": f"{cents:.1f}", "cents_sd": f"{max(pitch.sd_cents, 0.1):.1f}"}
    return HeardRow(named, cells | {"heard": ", ".join(_remarks(one.tone, one.beside))})


def _remarks(tone: Tone, beside: Neighbours | None) -> list[str]:
    """What else is heard, each with how sure it is."""
    sound = tone.sound
    if sound.beats is not None:
        said = [
            "pitch not told, since two reeds sound",
            f"{sound.beats.hz:.2f} ± {sound.beats.sd_hz:.2f} beats a second",
        ]
    elif tone.pitch.sd_cents > UNSURE_CENTS:
        said = [f"pitch not steady enough to tell (± {tone.pitch.sd_cents:.0f} cents)"]
    else:
        said = [f"pitch ± {max(tone.pitch.sd_cents, 0.1):.1f} cents"]
    if sound.speech_s is None:
        said.append("speech not told, since its beginning is hidden")
    else:
        usual = "" if beside is None or beside.speech_s is None else beside.speech_s
        neighbours = f" (neighbours {usual:.2f} s)" if usual else ""
        said.append(f"speech {sound.speech_s:.2f} ± {sound.speech_sd_s:.2f} s{neighbours}")
    if beside is None:
        said.append("level not told, since too few neighbours sound")
    else:
        more = sound.level_db - beside.level_db
        said.append(f"level {more:+.0f} ± {max(beside.level_sd_db, 1):.0f} dB beside neighbours")
    said.append(f"level steady to {sound.unsteady_db:.1f} dB")
    noise = f"noise {sound.noise_db:.0f} dB"
    if beside is not None:
        more = sound.noise_db - beside.noise_db
        noise += f" ({more:+.0f} ± {max(beside.noise_sd_db, 1):.0f} dB beside neighbours)"
    return [*said, noise]


def _listed(keys: tuple[int, ...]) -> str:
    return ", ".join(map(note_name, keys))


def _beats_said(beating: Sequence[tuple[int, Beats]]) -> str:
    """How fast two ranks beat along the compass."""
    (low, slow), (high, fast) = beating[0], beating[-1]
    usual = median(beats.hz for _, beats in beating)
    return (
        f"Keys on which two reeds beat: {len(beating)}; {usual:.1f} a second in the middle, "
        f"{slow.hz:.1f} at {note_name(low)}, {fast.hz:.1f} at {note_name(high)}."
    )


def _says(found: Hearing, first: int | None) -> list[str]:
    """What was heard in all, and what is to be asked."""
    named = found.named
    sounding = [one for one in found.keys if one.tone]
    low, high = note_name(found.keys[0].key), note_name(found.keys[-1].key)
    says = [f"{len(sounding)} keys heard from {low} to {high}, one every {named.period_s:.1f} s."]
    if named.silent:
        says.append(f"Silent, and there was time for them: {_listed(named.silent)}.")
    if named.skipped:
        says.append(f"Passed over or silent? Try again: {_listed(named.skipped)}.")
    if found.again:
        says.append(f"Played more than once; the longest counts: {_listed(found.again)}.")
    beating = [(k.key, k.tone.sound.beats) for k in sounding if k.tone and k.tone.sound.beats]
    if beating:
        says.append(_beats_said(beating))
    if found.unnamed:
        times = ", ".join(f"{tone.span.start_s:.0f} s" for tone in found.unnamed)
        says.append(f"Tones that belong to no key, at {times}.")
    if first is not None and sounding[0].key != first:
        says.append(
            f"The first tone was taken for {note_name(sounding[0].key)}, not "
            f"{note_name(first)}: was {note_name(first)} silent, or another key the first?"
        )
    off_cents = CENTS_PER_SEMITONE * named.offset
    if abs(off_cents) > QUESTION_CENTS or named.other_offset is not None:
        says.append(
            f"Taken to stand {off_cents:+.0f} cents from A = 440 Hz. A recording cannot tell that "
            "from another first key; say which with --from."
        )
    slowest_hz = median(k.tone.sound.slowest_hz for k in sounding if k.tone)
    says.append(f"Beats slower than {slowest_hz:.1f} a second may not be heard.")
    says.append("Silent keys before the first tone and after the last cannot be told.")
    return says
