"""Touch weight of a key: what pallet, suction and spring lead one to expect.

A pallet lies under the reed pan, inside the wind chest, and opens downwards into the
suction. With its mute open, room air stands above it: suction then pulls the pallet open,
against the spring, and lightens the touch. With the mute shut the slot above soon has the
suction of the chest, and the spring is all there is to overcome. A pallet that opens away
from the suction is held shut by it, and the touch is heavier.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assess import finite, not_negative, positive

# Weight of one gram at standard gravity, 9.80665 m/s2 (ISO 2533:1975).
NEWTON_PER_GRAM = 9.80665e-3

# How far from what is expected a touch weight must be to mean something. Estimate from
# memory: springs of one set, and hand-held weights, easily differ by a fifth.
FAR_SHARE = 0.3

Suction = Literal["opens", "shuts", "none"]
Reading = Literal["friction", "as expected", "weak spring or leak"]

_SIGNS: dict[Suction, float] = {"opens": -1.0, "shuts": 1.0, "none": 0.0}


def suction_force_n(slot_length_m: float, slot_width_m: float, suction_pa: float) -> float:
    """Force of the suction on a shut pallet: F = p A.

    Source: statics. A is the slot under the leather, not the pallet; leather that leaks
    along its edge adds up to its own rim. Valid while the pallet is shut: once it is open,
    air flows and the force is gone.

    Args:
        slot_length_m: of the slot in the pan [m].
        slot_width_m: of the slot [m].
        suction_pa: in the chest [Pa].

    Raises:
        ValueError: an argument that is not more than zero.

    >>> round(suction_force_n(0.100, 0.009, 747.0), 3)
    0.672
    """
    area_m2 = positive("the length of the slot", slot_length_m)
    area_m2 *= positive("the width of the slot", slot_width_m)
    return area_m2 * positive("the suction", suction_pa)


def opens_by_itself_pa(spring_n: float, slot_length_m: float, slot_width_m: float) -> float:
    """Suction at which a pallet of the usual kind is pulled open and the note ciphers.

    p = F_spring / A.

    Source: statics, as :func:`suction_force_n`.

    Args:
        spring_n: force of the spring on the shut pallet, at its middle [N].
        slot_length_m: of the slot in the pan [m].
        slot_width_m: of the slot [m].

    Raises:
        ValueError: an argument that is not more than zero.

    >>> round(opens_by_itself_pa(1.5, 0.100, 0.009))
    1667
    """
    return positive("the force of the spring", spring_n) / suction_force_n(
        slot_length_m, slot_width_m, 1.0
    )


def sticker_force_n(
    spring_n: float, suction_n: float, suction: Suction, share: float = 1.0
) -> float:
    """Force on the sticker at which the pallet starts to open.

    F = share (F_spring -/+ F_suction). Zero or less means that the pallet does not stay shut.

    Source: statics.

    Args:
        spring_n: force of the spring on the shut pallet, at its middle [N].
        suction_n: force of the suction, as :func:`suction_force_n` gives it [N].
        suction: whether that force "opens" the pallet (the usual pallet, mute open), "shuts"
            it, or there is "none" (mute shut, or no wind).
        share: what the sticker bears of it [1]: 1 when it pushes at the middle, 1/2 at the
            free end of a pallet hinged at the other.

    Raises:
        ValueError: a spring or share that is not more than zero, a negative suction force,
            or a word that is none of the three.

    >>> round(sticker_force_n(1.5, 0.672, "opens"), 3), sticker_force_n(1.5, 0.672, "none")
    (0.828, 1.5)
    """
    if suction not in _SIGNS:
        raise ValueError(f'suction "opens" or "shuts" a pallet, or does "none", not "{suction}"')
    positive("the force of the spring", spring_n)
    not_negative("the force of the suction", suction_n)
    return positive("the share of the sticker", share) * (spring_n + _SIGNS[suction] * suction_n)


def touch_g(sticker_n: float, finger_m: float, sticker_m: float, key_g: float = 0.0) -> float:
    """Weight at the front of a key that just starts to open its pallet, without friction.

    W = F a_sticker / (a_finger g) + what the key itself needs. The force rises as the spring
    is bent further.

    Source: law of the lever.

    Args:
        sticker_n: force at which the pallet starts to open [N].
        finger_m: from the balance to where the weight stands [m].
        sticker_m: from the balance to the sticker [m].
        key_g: weight at the front that would just balance the bare key; negative where the
            front is the heavier side [g].

    Raises:
        ValueError: an arm that is not more than zero, or a force or weight that is no number.

    >>> round(touch_g(0.828, 0.20, 0.12))
    51
    """
    ratio = positive("the arm of the sticker", sticker_m) / positive(
        "the arm of the finger", finger_m
    )
    force_g = finite("the force on the sticker", sticker_n) / NEWTON_PER_GRAM
    return ratio * force_g + finite("the weight of the key", key_g)


def coupled_touch_g(own_g: float, partner_g: float, coupler_g: float = 0.0) -> float:
    """Touch weight of a key that takes another with it through an octave coupler.

    Source: statics; the coupler lifts or pushes the partner's sticker at the same leverage.
    That it about doubles the touch is an estimate from memory.

    Args:
        own_g: touch of the key alone [g].
        partner_g: touch of the key an octave away, alone [g].
        coupler_g: spring and weight of the coupler, at the key's front [g].

    Raises:
        ValueError: a touch that is not more than zero, or a negative coupler.

    >>> coupled_touch_g(80.0, 70.0, 5.0)
    155.0
    """
    total_g = positive("the touch of the key", own_g) + positive("that of its partner", partner_g)
    return total_g + not_negative("the coupler", coupler_g)


@dataclass(frozen=True)
class DownUp:
    """Touch weight parted into what lifts the pallet and what only rubs.

    Attributes:
        balance_g: weight that would hold the key still without friction [g].
        friction_g: friction, felt once more on the way down and once less on the way up [g].
    """

    balance_g: float
    friction_g: float


def split_touch(down_g: float, up_g: float) -> DownUp:
    """Part touch weight into balance and friction.

    Balance = (down + up) / 2, friction = (down - up) / 2.

    Source: common practice in regulating keyboards (down weight and up weight).

    Args:
        down_g: least weight at the front that takes the key down [g].
        up_g: greatest weight that the key still brings up again [g].

    Raises:
        ValueError: a weight that is no number or negative, or an up weight above the down
            weight.

    >>> split_touch(90.0, 60.0)
    DownUp(balance_g=75.0, friction_g=15.0)
    """
    not_negative("the down weight", down_g)
    if not_negative("the up weight", up_g) > down_g:
        raise ValueError("a key cannot bring up more weight than takes it down")
    return DownUp((down_g + up_g) / 2, (down_g - up_g) / 2)


@dataclass(frozen=True)
class TouchReading:
    """What a touch weight says.

    Attributes:
        reading: "friction", "as expected" or "weak spring or leak".
        measured_g: weight found [g].
        expected_g: weight to expect [g].
        statement: the same in a sentence.
    """

    reading: Reading
    measured_g: float
    expected_g: float
    statement: str


_MEANINGS: dict[Reading, str] = {
    "friction": "far above: something rubs (key bushing, sticker, guide pin), or two springs",
    "as expected": "as expected",
    "weak spring or leak": "far below: the spring is weak, or the pallet hangs open and leaks",
}


def judge_touch(measured_g: float, expected_g: float, far_share: float = FAR_SHARE) -> TouchReading:
    """Hold a touch weight against the one to expect.

    Source: statics for what to expect (:func:`touch_g`); that far above means friction and
    far below a weak spring or a leak is common practice, how far is an estimate from memory.

    Args:
        measured_g: weight that takes the key down [g].
        expected_g: as :func:`touch_g` or :func:`coupled_touch_g` give it [g].
        far_share: how far off is far, as a share of what is expected [1].

    Raises:
        ValueError: a negative weight, nothing expected (the pallet does not stay shut), or
            a share not between 0 and 1.

    >>> judge_touch(120.0, 80.0).reading, judge_touch(45.0, 80.0).reading
    ('friction', 'weak spring or leak')
    """
    not_negative("the touch measured", measured_g)
    if finite("the touch expected", expected_g) <= 0:
        raise ValueError("no touch to expect: suction is stronger than the spring of this pallet")
    if not 0 < far_share < 1:
        raise ValueError("the share that counts as far lies between 0 and 1")
    reading = _reading(measured_g / expected_g - 1.0, far_share)
    statement = f"{measured_g:.0f} g for {expected_g:.0f} g, {_MEANINGS[reading]}"
    return TouchReading(reading, measured_g, expected_g, statement)


def _reading(excess: float, far_share: float) -> Reading:
    if excess > far_share:
        return "friction"
    return "weak spring or leak" if excess < -far_share else "as expected"
