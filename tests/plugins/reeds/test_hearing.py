"""Hearing reeds: a sound model with a known truth, and what no recording should do."""

from __future__ import annotations

import dataclasses
import re
import sys
import tracemalloc
from collections.abc import Set
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from assess_reeds.hearing.fundamentals import fundamental
from assess_reeds.hearing.listening import Hearing, listen
from assess_reeds.hearing.naming import name_keys
from assess_reeds.hearing.partials import baseband, measured_pitch
from assess_reeds.hearing.qualities import beats
from assess_reeds.hearing.wav_files import open_wav
from assess_reeds.hearing_rows import hear
from assess_reeds.pitch import note_name
from assess_reeds.rows import reed_row
from assess_reeds.survey import survey
from sound_model import RATE_HZ, Played, Room, recording, reed, tempered, write_wav

from assess import JobFileError, testing

QUICK = Room(period_s=1.3, gap_s=0.12, clicks=8, syllables=3)
STEADY = dataclasses.replace(QUICK, waver_cents=0.0, clicks=0, syllables=0)


@dataclass(frozen=True)
class Score:
    """What was heard against what was played."""

    missed: set[int]
    invented: set[int]
    silent: set[int]
    worst_cents: float
    median_cents: float


def score(heard: Hearing, played: list[Played]) -> Score:
    truth = {note.key: note for note in played}
    sounding = {note.key for note in played if note.hz is not None}
    found = {one.key: one.tone for one in heard.keys if one.tone is not None}
    errors = [
        abs(100 * (tone.note - key) - truth[key].cents)
        for key, tone in found.items()
        if key in sounding
    ]
    silent = {one.key for one in heard.keys if one.tone is None}
    return Score(
        sounding - set(found),
        set(found) - sounding,
        silent,
        max(errors),
        float(np.median(errors)),
    )


def row_of(first: int, last: int, seed: int, silent: Set[int] = frozenset()) -> list[Played]:
    rng = np.random.default_rng(seed)
    cents = {key: float(rng.normal(0, 8)) for key in range(first, last + 1)}
    return [
        Played(key, None if key in silent else tempered(key), cents[key])
        for key in range(first, last + 1)
    ]


@pytest.mark.parametrize(
    ("first", "last", "silent"), [(29, 43, {33, 37}), (53, 65, {57, 58}), (77, 89, {82})]
)
def test_every_key_is_heard_and_named_in_a_living_room(
    tmp_path: Path, first: int, last: int, silent: set[int]
) -> None:
    played = row_of(first, last, seed=first, silent=silent)
    wav = write_wav(tmp_path / "take.wav", recording(played, QUICK, seed=first))
    found = score(listen(wav, 8, first), played)
    assert (found.missed, found.invented, found.silent) == (set(), set(), silent)
    assert found.median_cents < 1
    assert found.worst_cents < 3


@pytest.mark.parametrize(("feet", "semitones", "first"), [(16, -12, 29), (4, 12, 82)])
def test_stops_of_other_lengths_are_named_by_their_keys(
    tmp_path: Path, feet: int, semitones: int, first: int
) -> None:
    played = [Played(key, tempered(key, semitones), 5.0) for key in range(first, first + 8)]
    wav = write_wav(tmp_path / "take.wav", recording(played, QUICK, seed=2))
    found = {one.key: one.tone for one in listen(wav, feet, first).keys}
    assert list(found) == [note.key for note in played]
    for key, tone in found.items():
        assert tone is not None
        assert tone.note - semitones - key == pytest.approx(0.05, abs=0.03)


def test_a_key_played_twice_a_slip_and_a_short_compass(tmp_path: Path) -> None:
    order = [53, 54, 54, 55, 58, 56, 57, 58, 59]
    played = [Played(key, tempered(key), 3.0) for key in order]
    wav = write_wav(tmp_path / "take.wav", recording(played, QUICK, seed=4))
    heard = listen(wav, 8, 53)
    assert [one.key for one in heard.keys] == list(range(53, 60))
    assert all(one.tone for one in heard.keys)
    assert heard.again == (54,)
    assert [round(tone.note) for tone in heard.unnamed] == [58]


def test_a_faint_tone_of_the_same_key_does_not_count(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    sound = rng.normal(0, 1e-4, 12 * RATE_HZ)
    tones = [(key, 0.5 + 1.5 * n, 1.2, 1.0) for n, key in enumerate(range(60, 65))]
    for key, start_s, length_s, size in [*tones, (64.3, 8.5, 2.5, 0.05)]:
        tone = size * reed(tempered(key), length_s, 1.0, STEADY, rng)
        first = int(start_s * RATE_HZ)
        sound[first : first + len(tone)] += tone
    heard = listen(write_wav(tmp_path / "take.wav", sound), 8, 60)
    assert heard.again == (64,)
    tone = heard.keys[-1].tone
    assert tone is not None
    assert tone.note == pytest.approx(64, abs=0.02)


def test_slow_weak_and_buzzing_reeds_stand_out_from_their_neighbours(tmp_path: Path) -> None:
    played = row_of(60, 71, seed=6)
    played[4] = dataclasses.replace(played[4], slow=16.0)
    played[8] = dataclasses.replace(played[8], level_db=-20.0)
    played[10] = dataclasses.replace(played[10], buzz=0.7)
    wav = write_wav(tmp_path / "take.wav", recording(played, STEADY, seed=6))
    speech = {one.key: one.speech.value for one in listen(wav, 8, 60).keys}
    assert {key: word for key, word in speech.items() if word != "speaks"} == {
        64: "slow",
        68: "weak",
        70: "buzz",
    }


@pytest.mark.parametrize("beat", [1.5, 3.0, 6.0])
def test_beats_of_two_ranks_are_counted(beat: float) -> None:
    rng = np.random.default_rng(8)
    tones = [reed(hz, 3.0, 0.2, STEADY, rng) for hz in (220.0, 220.0 + beat)]
    sound = (tones[0] + tones[1])[RATE_HZ // 2 :]
    found = beats(baseband(sound, RATE_HZ, 220.0))
    assert found is not None
    assert found.hz == pytest.approx(beat, abs=4 * found.sd_hz)
    assert found.sd_hz < 0.05
    assert beats(baseband(tones[0][RATE_HZ // 2 :], RATE_HZ, 220.0)) is None


def tone_of(hz: float, sizes: list[float], length_s: float = 0.8) -> np.ndarray:
    t = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    return np.sum(
        [size * np.sin(2 * np.pi * n * hz * t + n * n) for n, size in enumerate(sizes, 1)], axis=0
    )


@pytest.mark.parametrize(
    ("name", "sizes"),
    [
        ("weak fundamental", [0.01, 0.5, 0.8, 1.0, 0.9, 0.6, 0.4, 0.3]),
        ("strong octave", [0.1, 1.0, 0.08, 0.7, 0.06, 0.5, 0.05, 0.3]),
        ("odd partials only", [1.0, 0.0, 0.5, 0.0, 0.3, 0.0, 0.2]),
        ("strong twelfth", [0.2, 0.15, 1.0, 0.1, 0.1, 0.6, 0.05]),
        ("almost pure", [1.0, 0.02, 0.01]),
    ],
)
@pytest.mark.parametrize("hz", [43.7, 98.0, 220.0, 587.0])
def test_no_octave_is_mistaken(name: str, sizes: list[float], hz: float) -> None:
    rng = np.random.default_rng(1)
    sound = tone_of(hz, sizes) + rng.normal(0, 0.003, int(0.8 * RATE_HZ))
    assert fundamental(sound, RATE_HZ, 30, 4000).hz == pytest.approx(hz, rel=0.004), name


@pytest.mark.parametrize("hz", [60.0, 261.0, 1040.0])
def test_the_pitch_is_nearly_as_exact_as_noise_allows(hz: float) -> None:
    """Against the bound of Rife and Boorstyn (1974), summed over harmonics (from memory)."""
    sizes = [0.05 / n for n in range(1, 9)]
    noise = 0.02
    count = int(0.8 * RATE_HZ)
    rng = np.random.default_rng(3)
    clean = tone_of(hz, sizes)
    errors = []
    for _ in range(25):
        base = baseband(clean + rng.normal(0, noise, count), RATE_HZ, hz * 1.0005)
        errors.append(measured_pitch(base).hz - hz)
    weight = sum((n * size) ** 2 for n, size in enumerate(sizes, 1))
    step = 2 * np.pi / RATE_HZ
    bound = np.sqrt(24 * noise**2 / (weight * count * (count**2 - 1))) / step
    rms = float(np.sqrt(np.mean(np.square(errors))))
    assert 0.6 * bound < rms < 1.6 * bound


def test_an_uncertainty_is_as_large_as_the_errors() -> None:
    rng = np.random.default_rng(5)
    room = dataclasses.replace(QUICK, waver_cents=2.0)
    ratios = []
    for hz in np.linspace(100, 900, 25):
        sound = reed(float(hz), 1.6, 0.2, room, rng)[RATE_HZ // 5 :]
        pitch = measured_pitch(baseband(sound, RATE_HZ, float(hz)))
        ratios.append(1200 * np.log2(pitch.hz / hz) / pitch.sd_cents)
    assert 0.3 < float(np.sqrt(np.mean(np.square(ratios)))) < 2.0


@pytest.mark.parametrize("off", [-1.0, -0.4, 0.0, 0.5, 1.0])
def test_an_instrument_that_stands_off_is_named_from_its_first_key(off: float) -> None:
    keys = [*range(41, 57), *range(58, 66)]
    starts = [2.0 * (key - 41) for key in keys]
    named = name_keys([key + off for key in keys], starts, (24, 101), first=41)
    assert named.keys == tuple(keys)
    assert named.silent == (57,)
    assert named.offset == pytest.approx(off, abs=1e-6)


def test_a_gap_without_time_is_no_silent_key() -> None:
    starts = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    named = name_keys([53, 54, 55, 57, 58, 60], starts, (24, 101), first=53)
    assert named.keys == (53, 54, 55, 57, 58, 60)
    assert (named.silent, named.skipped) == ((), (56, 59))


def test_a_silent_key_that_is_tried_twice_is_silent() -> None:
    starts = [0.0, 2.0, 4.0, 10.0, 12.0, 14.0]
    named = name_keys([53, 54, 55, 57, 58, 59], starts, (24, 101), first=53)
    assert (named.silent, named.skipped) == ((56,), ())


def test_a_reed_of_a_wrong_note_keeps_its_key() -> None:
    pitches = [53, 54, 55.0, 55.1, 57, 58, 59]
    named = name_keys(pitches, [2.0 * i for i in range(7)], (24, 101), first=53)
    assert named.keys == (53, 54, 55, 56, 57, 58, 59)


def test_a_first_key_that_was_not_the_one_said_is_heard_from_the_pitch() -> None:
    keys = list(range(56, 66))
    named = name_keys([k + 0.02 for k in keys], [2.0 * i for i in range(10)], (24, 101), first=53)
    assert named.keys == tuple(keys)


@pytest.mark.parametrize(("bits", "within"), [(8, 0.01), (16, 1e-4), (24, 1e-6), (32, 1e-6)])
def test_samples_of_every_width_are_read(tmp_path: Path, bits: int, within: float) -> None:
    sound = np.random.default_rng(0).uniform(-0.9, 0.9, 2 * RATE_HZ)
    wav = open_wav(write_wav(tmp_path / "a.wav", sound, bits=bits))
    assert wav.frames == len(sound)
    np.testing.assert_allclose(wav.read(1000, 500), sound[1000:1500], atol=within)


def speech_like(rng: np.random.Generator) -> np.ndarray:
    """Syllables of a voice whose pitch glides, with pauses."""
    sound = rng.normal(0, 0.001, 12 * RATE_HZ)
    for start in np.arange(0.3, 11, 0.45):
        t = np.arange(int(0.3 * RATE_HZ)) / RATE_HZ
        hz = rng.uniform(100, 200) * (1 + rng.uniform(-0.4, 0.4) * t / 0.3)
        phase = 2 * np.pi * np.cumsum(hz) / RATE_HZ
        voice = np.sum([np.sin(n * phase) / n for n in range(1, 12)], axis=0)
        first = int(start * RATE_HZ)
        sound[first : first + len(t)] += 0.05 * voice * np.hanning(len(t))
    return sound


def strings() -> np.ndarray:
    """A scale on an instrument with struck strings: tones that die away, overtones stretched."""
    t = np.arange(int(1.3 * RATE_HZ)) / RATE_HZ
    tones = []
    for key in range(60, 68):
        turns = 2 * np.pi * tempered(key) * t
        tone = np.zeros_like(t)
        for n in range(1, 9):
            fades = np.exp(-t * (1 + n / 3)) / n
            tone += fades * np.sin(n * np.sqrt(1 + 4e-4 * n * n) * turns)
        tones.append(0.1 * tone)
    sound = np.concatenate(tones)
    return np.asarray(sound + np.random.default_rng(2).normal(0, 0.0005, len(sound)))


def bad_input(kind: str, path: Path) -> Path:
    rng = np.random.default_rng(9)
    second = RATE_HZ
    sounds = {
        "silence": np.zeros(5 * second),
        "hiss": rng.normal(0, 0.01, 5 * second),
        "clipped": np.clip(3 * tone_of(220, [1.0], 5.0), -1, 1),
        "short": np.zeros(second // 2),
        "speech": speech_like(rng),
        "one tone": 0.1 * tone_of(220, [1.0, 0.5], 5.0),
        "strings": strings(),
    }
    if kind in sounds:
        return write_wav(path, sounds[kind])
    if kind == "slow rate":
        return write_wav(path, rng.normal(0, 0.01, 20_000), rate_hz=8000)
    data = {
        "empty": b"",
        "no recording": b"\0\0\0\x18ftypmp42" + bytes(5000),
        "no samples": b"RIFF\x04\0\0\0WAVE",
    }
    path.write_bytes(data[kind])
    return path


BAD = {
    "silence": "no sound in it",
    "hiss": "0 steady tones heard",
    "clipped": "too loud for the microphone",
    "short": "only 0.5 s long",
    "speech": "heard",
    "one tone": "1 steady tones heard",
    "slow rate": "8000 samples per second",
    "empty": "the file is empty",
    "no recording": "not a (WAV file|recording)",
    "strings": "die away while the keys are held",
    "no samples": "without sound in it",
}


@pytest.mark.parametrize(("kind", "said"), BAD.items())
def test_what_cannot_be_heard_is_refused_in_one_line(tmp_path: Path, kind: str, said: str) -> None:
    path = bad_input(kind, tmp_path / "bad.wav")
    with pytest.raises(JobFileError, match=said) as refused:
        listen(path, 8, 53)
    assert "\n" not in str(refused.value)
    assert "bad.wav" in str(refused.value)


def encoded(path: Path, sound: np.ndarray, *, video: bool = False) -> Path:
    """Sound as a telephone keeps it: AAC in MP4, with or without pictures."""
    av = pytest.importorskip("av", reason="the decoder is not installed")
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=RATE_HZ)
        pictures = container.add_stream("mpeg4", rate=5, width=32, height=32) if video else None
        samples = np.clip(sound * 32768, -32768, 32767).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(samples, format="s16", layout="mono")
        frame.sample_rate = RATE_HZ
        container.mux([*stream.encode(frame), *stream.encode(None)])
        if pictures is not None:
            black = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
            container.mux([*pictures.encode(black), *pictures.encode(None)])
    return path


def test_a_recording_of_a_telephone_is_heard_like_a_wav_file(tmp_path: Path) -> None:
    played = [Played(key, tempered(key), 4.0) for key in range(60, 66)]
    path = encoded(tmp_path / "take.m4a", recording(played, STEADY, seed=5))
    heard = listen(path, 8, 60)
    assert [one.key for one in heard.keys] == list(range(60, 66))
    found = score(heard, played)
    assert (found.missed, found.invented, found.silent) == (set(), set(), set())
    assert found.worst_cents < 0.5
    assert [file.name for file in tmp_path.iterdir()] == ["take.m4a"]


def test_a_video_is_refused(tmp_path: Path) -> None:
    path = encoded(tmp_path / "take.mp4", np.zeros(2 * RATE_HZ), video=True)
    with pytest.raises(JobFileError, match=r"take\.mp4: a video; record sound alone"):
        listen(path, 8, 60)


def test_without_the_decoder_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    path = tmp_path / "take.m4a"
    path.write_bytes(b"\0\0\0\x18ftypM4A " + bytes(100))
    said = r"save the recording as WAV, or install a decoder: pip install '.*\[recordings\]'"
    with pytest.raises(JobFileError, match=said):
        listen(path, 8, 60)


def test_wav_files_need_no_decoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    path = write_wav(tmp_path / "take.wav", np.zeros(2 * RATE_HZ))
    with pytest.raises(JobFileError, match="no sound in it"):
        listen(path, 8, 60)


def test_memory_does_not_grow_with_the_length_of_a_recording(tmp_path: Path) -> None:
    def peak_bytes(seconds: int) -> int:
        sound = np.random.default_rng(0).normal(0, 0.01, seconds * 16_000)
        path = write_wav(tmp_path / "hiss.wav", sound, rate_hz=16_000)
        del sound
        tracemalloc.start()
        with pytest.raises(JobFileError, match="0 steady tones heard"):
            listen(path, 8, 60)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return peak

    assert peak_bytes(45) < 1.3 * peak_bytes(15)


def test_progress_goes_from_nothing_to_all(tmp_path: Path) -> None:
    played = [Played(key, tempered(key)) for key in range(60, 65)]
    path = write_wav(tmp_path / "take.wav", recording(played, STEADY, seed=5))
    told: list[float] = []
    listen(path, 8, 60, told.append)
    assert told == sorted(told)
    assert told[0] <= 0.5
    assert 0.8 < told[-1] <= 1.0


def test_what_is_heard_says_how_sure_it_is(tmp_path: Path) -> None:
    played = row_of(60, 67, seed=6, silent={63})
    played[5] = dataclasses.replace(played[5], cents=0.0, second_hz=tempered(65) + 4.0)
    wav = write_wav(tmp_path / "take.wav", recording(played, QUICK, seed=6))
    bare = testing.inspection_with("assess_reeds")
    heard = hear("notes", wav, {"stop": "Viola", "feet": "8", "from": "C4"}, bare, print)
    said = {row.key["note"]: row.cells["heard"] for row in heard.rows}
    for part in (
        r"pitch ± 0\.\d cents",
        r"speech 0\.\d\d ± 0\.02 s \(neighbours 0\.\d\d s\)",
        r"level [+-]\d ± \d dB beside neighbours",
        r"level steady to \d\.\d dB",
        r"noise -\d\d dB \([+-]\d ± \d dB beside neighbours\)",
    ):
        assert re.search(part, said["C4"]), part
    assert re.fullmatch(r"no sound for 1\.\d s", said["Eb4"])
    assert re.match(r"pitch not told, since two reeds sound, .* beats a second", said["F4"])
    cells = next(row.cells for row in heard.rows if row.key["note"] == "F4")
    assert "cents" not in cells
    assert any("two reeds beat: 1; 4.0 a second" in line for line in heard.says)


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = write_wav(tmp_path / "huge.wav", np.zeros(100))
    data = bytearray(path.read_bytes())
    data[40:44] = (2**32 - 2).to_bytes(4, "little")
    path.write_bytes(data)
    with path.open("r+b") as file:
        file.truncate(2**32)  # a hole: it takes no space on the disk
    with pytest.raises(JobFileError, match="longer than 2 hours"):
        open_wav(path)


def test_rows_give_cents_beside_the_pitch_of_the_tuner(tmp_path: Path) -> None:
    played = row_of(60, 66, seed=3, silent={63})
    wav = write_wav(tmp_path / "take.wav", recording(played, STEADY, seed=3))
    tuned = testing.inspection_with("assess_reeds", facts={"tuner_a": "435 Hz"})
    heard = hear("notes", wav, {"stop": "Viola", "feet": "8", "from": "C4"}, tuned, print)
    rows = {row.key["note"]: row.cells for row in heard.rows}
    assert rows["Eb4"]["speech"] == "dead"
    assert "cents" not in rows["Eb4"]
    assert float(rows["C4"]["cents"]) == pytest.approx(played[0].cents + 19.8, abs=0.5)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"feet": "5"}, "--feet: '5' is not one of"),
        ({"from": "H1"}, "--from: 'H1' is not the name"),
    ],
)
def test_options_that_cannot_be_are_named(options: dict[str, str], said: str) -> None:
    inspection = testing.inspection_with("assess_reeds")
    with pytest.raises(JobFileError, match=said):
        hear("notes", Path("none.wav"), {"stop": "Viola", **options}, inspection, print)


def test_the_verdict_of_pitch_is_the_same_as_with_the_truth(tmp_path: Path) -> None:
    played = [Played(key, tempered(key), -20 + (15 if key == 66 else 0)) for key in range(60, 73)]
    wav = write_wav(tmp_path / "take.wav", recording(played, QUICK, seed=12))
    bare = testing.inspection_with("assess_reeds")
    heard = hear("notes", wav, {"stop": "Viola", "feet": "8", "from": "C4"}, bare, print)
    by_ear = survey(
        reed_row(row.key["note"], "Viola", 8, row.cells["speech"], cents=float(row.cells["cents"]))
        for row in heard.rows
    )
    truth = survey(reed_row(note_name(note.key), "Viola", cents=note.cents) for note in played)
    assert [reed.faults for reed in by_ear.reeds] == [reed.faults for reed in truth.reeds]
    assert by_ear.tuning.assumed == truth.tuning.assumed
    assert by_ear.tuning.pitch is not None
    assert truth.tuning.pitch is not None
    assert by_ear.tuning.pitch.cents == pytest.approx(truth.tuning.pitch.cents, abs=0.7)
