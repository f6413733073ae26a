"""Numbers as a person writes them in a sentence: shares, sums of money, counted things."""

from __future__ import annotations


def money(amount: float, currency: str) -> str:
    """An amount in whole units with its currency.

    >>> money(2345.6, "USD")
    'USD 2,346'
    """
    return f"{currency} {amount:,.0f}"


def percent(share: float) -> str:
    """A share in percent; 0 and 100 only where they are exact.

    >>> [percent(s) for s in (0.0, 0.001, 0.42, 0.999, 1.0)]
    ['0 %', 'under 1 %', '42 %', 'over 99 %', '100 %']
    """
    if 0.995 <= share < 1:
        return "over 99 %"
    if 0 < share < 0.01:
        return "under 1 %"
    return f"{100 * share:.0f} %"


def counted(count: int, thing: str, things: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "step"), counted(3, "step"), counted(2, "criterion", "criteria")
    ('1 step', '3 steps', '2 criteria')
    """
    return f"{count} {thing if count == 1 else things or thing + 's'}"


def sentence(text: str) -> str:
    """A statement as a sentence.

    >>> sentence("it leaks"), sentence("None.")
    ('It leaks.', 'None.')
    """
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
