"""A recording of one stop, played upwards, as a list of its keys: what each sounds like."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path
from statistics import median, stdev

import numpy as np

from assess import JobFileError
from assess_reeds.found_tuning import MEDIAN_LOSS
from assess_reeds.hearing.fundamentals import APERIODIC, fundamental
from assess_reeds.hearing.naming import Named, name_keys
from assess_reeds.hearing.partials import Pitch, baseband, measured_pitch
from assess_reeds.hearing.qualities import Qualities, qualities
from assess_reeds.hearing.segments import Span, note_spans, room_noise
from assess_reeds.hearing.sound_files import open_recording
from assess_reeds.hearing.wav_files import WavFile, check_sound
from assess_reeds.pitch import (
    A4_MIDI,
    CENTS_PER_SEMITONE,
    FOOTAGE_SEMITONES,
    cents_between,
    note_hz,
)
from assess_reeds.rows import Speech

COMPASS = (24, 101)
"""Keys that a reed organ may have: C1 to F7; wider than any that is usual."""
BEYOND_SEMITONES = 4
SAME_CENTS = 60.0
SPLIT = 0.5
"""Finding the notes takes about half of the time, and measuring them the rest."""
SHORT_GAP_S = 0.12
REPEAT_DIP_DB = 8.0
LONG_TIMES = 1.35
LOOK_S = 0.3
MOST_WANDER_CENTS = 25.0
"""A tone that wanders by more is a voice, or a reed that cannot be measured: estimate."""
LEAST_PARTIALS = 2
ENOUGH_PARTIALS = 4
"""With these it is a tone, even if its period is too few samples to see it repeat."""
LEAST_TONES = 3
MOST_COST = 3.0
"""A reading that costs more for each tone is no row of keys going up: estimate."""
DIES_AWAY_DB = 6.0
"""Reeds sound on as long as their key is held; strings that fall by this much do not: estimate."""
STEADY_FROM = 0.3
STEADY_BEFORE_END_S = 0.12
BEFORE_S = 0.25
NEIGHBOURS = 5
SLOW_TIMES, SLOW_S = 2.5, 0.25
WEAK_DB = 14.0
"""A room alone makes tones differ by 10 dB at one place (its standing waves)."""
BUZZ_DB, LOUDEST_CLEAN_DB = 12.0, -22.0


@dataclass(frozen=True)
class Tone:
    """One tone of a recording."""

    span: Span
    pitch: Pitch
    sound: Qualities

    @property
    def note(self) -> float:
        """Its note number with fraction, A4 = 440 Hz."""
        return A4_MIDI + cents_between(440.0, self.pitch.hz) / CENTS_PER_SEMITONE


@dataclass(frozen=True)
class Neighbours:
    """The medians of the neighbouring keys, and how sure a difference from them is.

    Attributes:
        speech_s: time to speech, None if it was not told of any [s].
        level_db, noise_db: as in Qualities [dB].
        level_sd_db, noise_sd_db: standard uncertainty of these medians [dB].
    """

    speech_s: float | None
    level_db: float
    level_sd_db: float
    noise_db: float
    noise_sd_db: float


@dataclass(frozen=True)
class HeardKey:
    """One key of the recording.

    Attributes:
        key: its number.
        tone: what sounded, None if it was silent.
        speech: how it speaks beside its neighbours.
        beside: these, None if they are too few.
        silent_s: for how long nothing sounded where it should; 0 if something did [s].
    """

    key: int
    tone: Tone | None
    speech: Speech
    beside: Neighbours | None = None
    silent_s: float = 0.0


@dataclass(frozen=True)
class Hearing:
    """What was heard in one recording.

    Attributes:
        keys: from the lowest to the highest.
        named: how the tones were named.
        unnamed: tones that belong to no key.
        again: keys that were played more than once; the longest tone counts.
    """

    keys: tuple[HeardKey, ...]
    named: Named
    unnamed: tuple[Tone, ...]
    again: tuple[int, ...]


def listen(
    path: Path,
    feet: int,
    first: int | None = None,
    progress: Callable[[float], None] = lambda share: None,
) -> Hearing:
    """What a recording of one stop says of its keys.

    Args:
        path: a WAV file, or another one that can be decoded.
        feet: length of the rank [ft].
        first: the key that was played first, if known.
        progress: gets the share of the work that is done, from 0 to 1.

    Raises:
        JobFileError: nothing can be made of it; says why in one line.
    """
    shift = FOOTAGE_SEMITONES[feet]
    with open_recording(path) as wav:
        check_sound(wav)
        tones = tones_of(wav, _range_hz(first, shift), progress)
    if len(tones) < LEAST_TONES:
        raise JobFileError(
            f"{path}: {len(tones)} steady tones heard, at least {LEAST_TONES} are needed; play one "
            "stop upwards, every key for two seconds, with the microphone at arm's length"
        )
    if median(tone.sound.fall_db for tone in tones) > DIES_AWAY_DB:
        raise JobFileError(
            f"{path}: the tones die away while the keys are held, as those of strings do; reeds "
            "sound on: is it another instrument?"
        )
    notes = [tone.note - shift for tone in tones]
    named = name_keys(notes, [tone.span.start_s for tone in tones], COMPASS, first)
    if named.cost > MOST_COST:
        raise JobFileError(
            f"{path}: {len(tones)} tones heard, but no row of keys going upwards; play one stop "
            "upwards, one key after the other"
        )
    return _gathered(tones, named, shift)


def _range_hz(first: int | None, shift: int) -> tuple[float, float]:
    lowest = COMPASS[0] if first is None else first
    low = max(lowest + shift - BEYOND_SEMITONES, 0)
    high = min(COMPASS[1] + shift + BEYOND_SEMITONES, 127)
    return max(note_hz(low), 18.0), note_hz(high)


def tones_of(
    wav: WavFile,
    range_hz: tuple[float, float],
    progress: Callable[[float], None] = lambda share: None,
) -> list[Tone]:
    """Every steady tone of a recording, in order.

    Args:
        wav: the recording.
        range_hz: lowest and highest fundamental that there may be [Hz].
        progress: gets the share that is done.
    """
    low, high = range_hz[0], min(range_hz[1], 0.4 * wav.rate_hz)
    spans: list[tuple[Span, float]] = []
    pieces = note_spans(wav, room_noise(wav), lambda share: progress(SPLIT * share))
    parted = _parted(wav, pieces, low, high)
    for number, span in enumerate(parted):
        progress(SPLIT + (1 - SPLIT) * number / len(parted))
        found = _fundamental_of(wav, span, low, high)
        if found is None:
            continue
        if spans and _is_one(wav, spans[-1], (span, found)):
            longer = max(spans[-1], (span, found), key=lambda one: one[0].length_s)
            spans[-1] = (Span(spans[-1][0].start_s, span.end_s), longer[1])
        else:
            spans.append((span, found))
    tones = [_measured(wav, span, hz) for span, hz in spans]
    return [tone for tone in tones if _is_steady(tone)]


def _parted(wav: WavFile, spans: list[Span], low: float, high: float) -> list[Span]:
    """Pieces that are far longer than the others, split where their pitch changes.

    Neighbouring bass keys that overlap change the spectrum too slowly to be seen as two.
    """
    usual = median(span.length_s for span in spans) if spans else 0.0
    parted = []
    for span in spans:
        long = span.length_s > LONG_TIMES * usual
        parted += _by_pitch(wav, span, low, high) if long else [span]
    return parted


def _by_pitch(wav: WavFile, span: Span, low: float, high: float) -> list[Span]:
    """A piece split where the pitch changes for at least two looks of LOOK_S each."""
    looks = max(int(span.length_s / LOOK_S), 1)
    step = span.length_s / looks
    spans: list[Span] = []
    last: float | None = None
    for look in range(looks):
        one = Span(span.start_s + look * step, span.start_s + (look + 1) * step)
        sound = wav.read(round(one.start_s * wav.rate_hz), round(2 * step * wav.rate_hz))
        hz = fundamental(sound, wav.rate_hz, low, high).hz
        if spans and last is not None and abs(cents_between(hz, last)) < SAME_CENTS:
            spans[-1] = Span(spans[-1].start_s, one.end_s)
        else:
            spans.append(one)
        last = hz
    return [one for one in spans if one.length_s > 1.5 * step] or [span]


def _is_steady(tone: Tone) -> bool:
    wander = tone.pitch.wander_cents
    return bool(tone.sound.beats is not None or wander <= MOST_WANDER_CENTS)


def _steady(wav: WavFile, span: Span) -> tuple[int, int]:
    """First sample and number of samples of the part in which a tone is settled."""
    begin = span.start_s + min(STEADY_FROM, 0.3 * span.length_s)
    end = max(span.end_s - STEADY_BEFORE_END_S, begin + 0.5 * span.length_s)
    return round(begin * wav.rate_hz), round((min(end, span.end_s) - begin) * wav.rate_hz)


def _fundamental_of(wav: WavFile, span: Span, low: float, high: float) -> float | None:
    sound = wav.read(*_steady(wav, span))
    if len(sound) < 4 * wav.rate_hz / low:
        return None
    found = fundamental(sound, wav.rate_hz, low, high)
    repeats = found.aperiodic < APERIODIC or found.partials >= ENOUGH_PARTIALS
    tonal = repeats and found.partials >= LEAST_PARTIALS
    return found.hz if tonal else None


def _is_one(wav: WavFile, one: tuple[Span, float], two: tuple[Span, float]) -> bool:
    """Whether two pieces are parts of one tone: same pitch, and no key let go between."""
    gap = two[0].start_s - one[0].end_s
    if gap > SHORT_GAP_S or abs(cents_between(one[1], two[1])) > SAME_CENTS:
        return False
    return _dip_db(wav, (one[0].end_s + two[0].start_s) / 2) < REPEAT_DIP_DB


def _dip_db(wav: WavFile, at_s: float) -> float:
    """How far the level sinks near a moment, below the softer of both sides [dB]."""
    step = round(0.03 * wav.rate_hz)
    sound = wav.read(round((at_s - 0.45) * wav.rate_hz), 30 * step)
    levels = (sound[: len(sound) // step * step].reshape(-1, step) ** 2).mean(axis=1)
    if len(levels) < 6:
        return 99.0
    lowest = levels[5:-5].min() if len(levels) > 10 else levels.min()
    half = len(levels) // 2
    sides = min(float(np.median(levels[:half])), float(np.median(levels[half:])))
    return float(10 * np.log10((sides + 1e-16) / (lowest + 1e-16)))


def _measured(wav: WavFile, span: Span, hz: float) -> Tone:
    begin, count = _steady(wav, span)
    sound = wav.read(begin, count)
    pitch = measured_pitch(baseband(sound, wav.rate_hz, hz))
    base = baseband(sound, wav.rate_hz, pitch.hz)
    early = round((span.start_s - BEFORE_S) * wav.rate_hz)
    whole = baseband(wav.read(early, begin + count - max(early, 0)), wav.rate_hz, pitch.hz)
    return Tone(span, pitch, qualities(sound, base, whole, wav.rate_hz))


def _gathered(tones: Sequence[Tone], named: Named, shift: int) -> Hearing:
    of_key: dict[int, list[Tone]] = {}
    unnamed = []
    for tone, key in zip(tones, named.keys, strict=True):
        if key is None:
            unnamed.append(tone)
        else:
            of_key.setdefault(key, []).append(tone)
    best = {key: _chosen(own, key + named.offset + shift) for key, own in of_key.items()}
    again = [key for key, own in of_key.items() if len(own) > 1]
    keys = [HeardKey(key, tone, Speech.SPEAKS) for key, tone in best.items()]
    keys = [_beside(one, keys) for one in keys]
    keys += [
        HeardKey(key, None, Speech.DEAD, silent_s=_silent_s(key, best)) for key in named.silent
    ]
    in_order = tuple(sorted(keys, key=lambda one: one.key))
    return Hearing(in_order, named, tuple(unnamed), tuple(sorted(again)))


def _chosen(tones: Sequence[Tone], note: float) -> Tone:
    """Of tones of one key, the longest; what is far weaker or not near its note comes last."""
    loudest_db = max(tone.sound.level_db for tone in tones)

    def rank(tone: Tone) -> tuple[bool, bool, float]:
        loud = tone.sound.level_db > loudest_db - WEAK_DB
        return abs(tone.note - note) < 0.5, loud, tone.span.length_s

    return max(tones, key=rank)


def _silent_s(key: int, best: Mapping[int, Tone]) -> float:
    """How long nothing sounded for each silent key between the tones on both sides [s]."""
    low = max(k for k in best if k < key)
    high = min(k for k in best if k > key)
    time = best[high].span.start_s - best[low].span.end_s
    return max(time, 0.0) / max(high - low - 1, 1)


def _beside(one: HeardKey, keys: Sequence[HeardKey]) -> HeardKey:
    """A key with how it speaks beside its neighbours."""
    others = [k.tone.sound for k in keys if k.tone and 0 < abs(k.key - one.key) <= NEIGHBOURS]
    if one.tone is None or len(others) < LEAST_TONES:
        return one
    times = [o.speech_s for o in others if o.speech_s is not None]
    levels, noises = [o.level_db for o in others], [o.noise_db for o in others]
    beside = Neighbours(
        median(times) if times else None,
        median(levels),
        MEDIAN_LOSS * stdev(levels) / sqrt(len(levels)),
        median(noises),
        MEDIAN_LOSS * stdev(noises) / sqrt(len(noises)),
    )
    return replace(one, speech=_speech(one.tone.sound, beside), beside=beside)


def _speech(sound: Qualities, beside: Neighbours) -> Speech:
    usual_s = beside.speech_s or 0.0
    if sound.speech_s is not None and sound.speech_s > max(SLOW_TIMES * usual_s, usual_s + SLOW_S):
        return Speech.SLOW
    if sound.level_db < beside.level_db - WEAK_DB:
        return Speech.WEAK
    noisy = max(beside.noise_db + BUZZ_DB, LOUDEST_CLEAN_DB)
    return Speech.BUZZ if sound.noise_db > noisy else Speech.SPEAKS
