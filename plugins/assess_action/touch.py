"""Touch weight of a key: what to expect from pallet, suction and spring.

A pallet lies under the reed pan, inside the wind chest, and opens downwards into the suction.
With its mute open, room air is above it. The suction then pulls the pallet open against its
spring, which lightens the touch. With the mute shut, the slot above soon has the suction of
the chest, and only the spring resists.
"""

from __future__ import annotations

from typing import Literal

from assess import finite, not_negative, positive

# Weight of one gram at standard gravity, 9.80665 m/s2 (ISO 2533:1975).
NEWTON_PER_GRAM = 9.80665e-3

# How far a touch weight must be from the expected one to mean something. Estimate from memory:
# springs of one set, and hand-held weights, easily differ by a fifth.
FAR_SHARE = 0.3

TouchReading = Literal["friction", "as expected", "weak spring or leak"]


def suction_force_n(slot_length_m: float, slot_width_m: float, suction_pa: float) -> float:
    """Force of the suction on a shut pallet, F = p A, in N.

    Source: statics. A is the area of the slot under the leather, not of the pallet. Leather
    that leaks along its edge adds area up to its own rim. Valid while the pallet is shut:
    once it is open, air flows and the force is gone.

    Args:
        slot_length_m: length of the slot in the pan [m].
        slot_width_m: width of the slot [m].
        suction_pa: suction in the chest [Pa].

    Raises:
        ValueError: a length or width that is not above zero, or a negative suction.

    >>> round(suction_force_n(0.100, 0.009, 747.0), 3)
    0.672
    """
    area_m2 = positive("the length of the slot", slot_length_m)
    area_m2 *= positive("the width of the slot", slot_width_m)
    return area_m2 * not_negative("the suction", suction_pa)


def cipher_suction_pa(spring_n: float, slot_length_m: float, slot_width_m: float) -> float:
    """Suction that pulls a shut pallet open, so that its note ciphers: p = F / A, in Pa.

    Source: statics, as :func:`suction_force_n`.

    Args:
        spring_n: force of the spring on the shut pallet, at its middle [N].
        slot_length_m: length of the slot in the pan [m].
        slot_width_m: width of the slot [m].

    Raises:
        ValueError: an argument that is not above zero.

    >>> round(cipher_suction_pa(1.5, 0.100, 0.009))
    1667
    """
    newton_per_pascal = suction_force_n(slot_length_m, slot_width_m, 1.0)
    return positive("the force of the spring", spring_n) / newton_per_pascal


def sticker_force_n(spring_n: float, suction_n: float) -> float:
    """Force on the sticker that starts to open the pallet, in N: spring less suction.

    Zero or less means that the pallet does not stay shut.

    Source: statics; the sticker pushes at the middle of the pallet.

    Args:
        spring_n: force of the spring on the shut pallet, at its middle [N].
        suction_n: force of the suction, from :func:`suction_force_n` [N]; 0 with the mute
            shut or without wind.

    Raises:
        ValueError: a spring that is not above zero, or a negative suction force.

    >>> round(sticker_force_n(1.5, 0.672), 3)
    0.828
    """
    positive("the force of the spring", spring_n)
    return spring_n - not_negative("the force of the suction", suction_n)


def touch_g(sticker_n: float, finger_m: float, sticker_m: float) -> float:
    """Weight at the front of a key that just starts to open its pallet, in g.

    W = F a_sticker / (a_finger g), without friction, for a key that is balanced by itself.
    The force rises as the spring bends further.

    Source: law of the lever.

    Args:
        sticker_n: force that starts to open the pallet [N].
        finger_m: distance from the balance pin to the weight [m].
        sticker_m: distance from the balance pin to the sticker [m].

    Raises:
        ValueError: a distance that is not above zero, or a force that is not a number.

    >>> round(touch_g(0.828, 0.20, 0.12))
    51
    """
    sticker_arm = positive("the arm of the sticker", sticker_m)
    ratio = sticker_arm / positive("the arm of the finger", finger_m)
    return ratio * finite("the force on the sticker", sticker_n) / NEWTON_PER_GRAM


def coupled_touch_g(own_g: float, partner_g: float) -> float:
    """Touch weight of a key that moves another key through an octave coupler, in g.

    Source: statics; the coupler moves the partner's sticker at the same leverage. Its own
    weight and spring are not counted.

    Args:
        own_g: touch weight of the key alone [g].
        partner_g: touch weight of the key an octave away, alone [g].

    Raises:
        ValueError: a touch weight that is not above zero.

    >>> coupled_touch_g(80.0, 70.0)
    150.0
    """
    own_g = positive("the touch of the key", own_g)
    return own_g + positive("the touch of its partner", partner_g)


def judge_touch(measured_g: float, expected_g: float) -> TouchReading:
    """What a measured touch weight means, compared with the expected one.

    Source: far above means friction and far below a weak spring or a leak (common practice);
    how far is :data:`FAR_SHARE`, an estimate from memory.

    Args:
        measured_g: weight that takes the key down [g].
        expected_g: weight from :func:`touch_g` or :func:`coupled_touch_g` [g].

    Raises:
        ValueError: a negative measured weight, or an expected weight that is not above zero.

    >>> judge_touch(120.0, 80.0), judge_touch(45.0, 80.0)
    ('friction', 'weak spring or leak')
    """
    measured_g = not_negative("the measured touch", measured_g)
    excess = measured_g / positive("the expected touch", expected_g) - 1.0
    if excess > FAR_SHARE:
        return "friction"
    return "weak spring or leak" if excess < -FAR_SHARE else "as expected"
