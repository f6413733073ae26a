"""How well and how fast reeds are heard: recordings by the sound model, with a known truth.

Run it by hand; it prints the tables of DEVELOPERS.md and takes some five minutes. With the word
``library`` behind it, it compares pitches with those of librosa instead, which must be installed.
Each recording is a whole compass of 61 keys, F1 to F6, one key every two seconds; one key in
sixteen is silent, one in thirty is played twice, and one in forty comes after a slip of the finger.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).parents[1]
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "plugins"), str(HERE)]

from assess_reeds.hearing.listening import listen  # noqa: E402
from sound_model import Played, Room, recording, tempered, write_wav  # noqa: E402

from assess import JobFileError  # noqa: E402

FIRST, LAST = 29, 89
RECORDINGS = 20
LIMIT_RECORDINGS = 3


@dataclass
class Count:
    """What was heard in some recordings, against what was played."""

    sounding: int = 0
    found: int = 0
    invented: int = 0
    octaves: int = 0
    silent: int = 0
    silent_right: int = 0
    silent_wrong: int = 0
    refused: int = 0
    errors: list[float] = field(default_factory=list)
    times_the_bound: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)

    def row(self) -> str:
        """A row of the table."""
        cents = np.array(self.errors or [np.nan])
        spread = f"{np.median(cents):.2f} / {np.quantile(cents, 0.99):.2f} / {cents.max():.2f}"
        return (
            f"{self.found} of {self.sounding} | {self.invented} | {self.octaves} | "
            f"{self.silent_right} of {self.silent} ({self.silent_wrong}) | {spread} | "
            f"{np.median(self.times_the_bound or [np.nan]):.0f} | {self.refused}"
        )


def drawn(rng: np.random.Generator, semitones: int, off_cents: float) -> list[Played]:
    """An instrument as it is played upwards, with slips."""
    played = []
    silent = {key for key in range(FIRST + 1, LAST) if rng.random() < 1 / 16}
    cents = {key: off_cents + float(rng.normal(0, 8)) for key in range(FIRST, LAST + 1)}
    for key in cents:
        inner = FIRST < key < LAST
        hz = None if key in silent else tempered(key, semitones)
        slip = key + int(rng.integers(2, 5))
        if inner and rng.random() < 1 / 40 and slip <= LAST and slip not in silent:
            played.append(Played(slip, tempered(slip, semitones), cents[slip]))
        note = Played(key, hz, cents[key], float(rng.uniform(0.7, 1.5)), float(rng.normal(0, 3)))
        played += [note, note] if inner and rng.random() < 1 / 30 else [note]
    return played


def heard(count: Count, played: list[Played], room: Room, seed: int, feet: int) -> None:
    """Hear one recording, and count."""
    # A slip sounds a key too soon; the key counts by what it is when its turn comes, later.
    truth = {note.key: note for note in played}
    sounding = {key for key, note in truth.items() if note.hz is not None}
    silent = set(truth) - sounding
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "take.wav"
        write_wav(wav, recording(played, room, seed), room.rate_hz)
        began = time.perf_counter()
        try:
            found = listen(wav, feet, FIRST)
        except JobFileError as error:
            print(f"  refused: {error}", file=sys.stderr)
            count.refused += 1
            found = None
        count.seconds.append(time.perf_counter() - began)
    count.sounding += len(sounding)
    count.silent += len(silent)
    if found is None:
        return
    shift = {16: -12, 8: 0, 4: 12}[feet]
    for one in found.keys:
        if one.tone is None:
            count.silent_right += one.key in silent
            count.silent_wrong += one.key in sounding
            continue
        if one.key not in sounding:
            count.invented += 1
            continue
        error = 100 * (one.tone.note - shift - one.key) - truth[one.key].cents
        if abs(error) > 50:
            count.octaves += abs(abs(error) - 1200) < 60
            continue
        count.found += 1
        count.errors.append(abs(error))
        count.times_the_bound.append(abs(error) / one.tone.pitch.bound_cents)


def table(conditions: list[tuple[str, Room, int]], seed: int) -> None:
    """Print a table with a row for each condition."""
    for name, room, times in conditions:
        count = Count()
        for number in range(times):
            rng = np.random.default_rng(seed + number)
            feet = (8, 8, 16, 4)[number % 4]
            semitones = {16: -12, 8: 0, 4: 12}[feet]
            off_cents = float(rng.choice([0.0, -20.0, 30.0, 55.0]))
            heard(count, drawn(rng, semitones, off_cents), room, seed + number, feet)
        print(f"| {name} | {count.row()} | ({np.median(count.seconds):.1f} s each)", flush=True)


def library_row(name: str, room: Room, seed: int) -> None:
    """Print the pitches of one recording by YIN and probabilistic YIN of a library, and by ours.

    The library does not part notes or name them, so it is told where each one sounds; its pitch is
    the median over the frames there.
    """
    import librosa

    rng = np.random.default_rng(seed)
    played = [Played(key, tempered(key), float(rng.normal(0, 8))) for key in range(FIRST, LAST + 1)]
    onsets = [1.0 + room.period_s * i for i in range(len(played))]
    sound = recording(played, room, seed, onsets)
    hop = 512
    searched = {"fmin": 40, "fmax": 1600, "sr": room.rate_hz, "frame_length": 4096}
    trackers = {
        "YIN of a library": lambda: librosa.yin(sound, hop_length=hop, **searched),
        "its probabilistic YIN": lambda: librosa.pyin(
            sound, hop_length=hop, fill_na=None, **searched
        )[0],
    }
    for tracker, track in trackers.items():
        began = time.perf_counter()
        f0 = track()
        seconds = time.perf_counter() - began
        errors = []
        for note, onset in zip(played, onsets, strict=True):
            inner = slice(
                int((onset + 0.4) * room.rate_hz / hop),
                int((onset + room.period_s - 0.4) * room.rate_hz / hop),
            )
            hz = float(np.median(f0[inner]))
            errors.append(1200 * np.log2(hz / tempered(note.key)) - note.cents)
        _print_errors(f"{name}: {tracker}", errors, seconds)
    with tempfile.TemporaryDirectory() as folder:
        wav = write_wav(Path(folder) / "take.wav", sound, room.rate_hz)
        began = time.perf_counter()
        found = listen(wav, 8, FIRST)
        seconds = time.perf_counter() - began
    truth = {note.key: note.cents for note in played}
    ours = [100 * (k.tone.note - k.key) - truth[k.key] for k in found.keys if k.tone]
    _print_errors(f"{name}: ours", ours, seconds)


def _print_errors(name: str, errors: list[float], seconds: float) -> None:
    size = np.abs(np.array(errors))
    near = size[size < 50]
    octaves = int((np.abs(size / 1200 - np.round(size / 1200)) * 1200 < 60).sum() - len(near))
    print(
        f"| {name} | {len(near)} of {LAST - FIRST + 1} | {octaves} | {np.median(near):.2f} / "
        f"{np.quantile(near, 0.99):.2f} / {near.max():.2f} | {seconds:.1f} s |",
        flush=True,
    )


def against_library() -> None:
    """Print the comparison."""
    room = Room()
    print("| | within 50 cents | octaves | cents: median / 99 % / worst | time |")
    library_row("living room", room, 5000)
    library_row("living room again", room, 5001)
    library_row("hiss 30 dB louder", replace(room, hiss_db=room.hiss_db + 30), 5002)
    library_row("no wavering", replace(room, waver_cents=0.0), 5003)


def main() -> None:
    """Print the tables."""
    if sys.argv[1:] == ["library"]:
        against_library()
        return
    room = Room()
    print(
        "| | found | invented | octaves | silent right (wrong) | cents: median, 99 %, worst "
        "| times the bound | refused |"
    )
    table([("living room", room, RECORDINGS)], seed=1000)
    limits = [
        ("hiss 20 dB louder", replace(room, hiss_db=room.hiss_db + 20)),
        ("hiss 30 dB louder", replace(room, hiss_db=room.hiss_db + 30)),
        ("rumble 20 dB louder", replace(room, rumble_db=room.rumble_db + 20)),
        ("wind wavers by 5 cents", replace(room, waver_cents=5.0)),
        ("tail of 1.2 s", replace(room, tail_s=1.2)),
        ("120 clicks", replace(room, clicks=120)),
        ("somebody talks, 10 dB softer", replace(room, syllables=30)),
        ("somebody talks, as loud", replace(room, syllables=30, voice_db=-28.0)),
        ("a key every second", replace(room, period_s=1.0, gap_s=0.08)),
        ("no wavering", replace(room, waver_cents=0.0)),
    ]
    table([(name, changed, LIMIT_RECORDINGS) for name, changed in limits], seed=2000)
    print("Two minutes at 48 kHz:")
    table([("48 kHz", replace(room, rate_hz=48_000), 1)], seed=3000)


if __name__ == "__main__":
    main()
