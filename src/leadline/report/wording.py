"""Numbers and names as a reader meets them: percentages, counts, clipped names."""

from __future__ import annotations

import math
import re
from html import escape
from typing import Final

from leadline.risk import words
from leadline.risk.rare_answer import chance_text
from leadline.risk.words import Rounding
from leadline.run.result import Chance, Difference
from leadline.units import humanise

__all__ = [
    "amount",
    "bare",
    "chance",
    "clipped",
    "count",
    "difference",
    "gain",
    "label",
    "level",
    "number",
    "number_interval",
    "places",
    "plain",
    "quoted",
    "share",
    "small",
    "unbroken",
    "with_powers",
]

NARROW_SPACE: Final = "\u202f"
_UNSEEN: Final = re.compile(
    "[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)
_BREAKS: Final = re.compile(r"[ \t\r\n]+")
_RAISED: Final = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_POWER: Final = re.compile(r"(?<=[ms])[23]\b")
_WITHIN_A_NUMBER: Final = re.compile(r"(?<=\d) (?=\d{3}(?!\d)|%|(?:kg|t|m3|m/s|km/s|km|m|s|min|h|d)\b)")


def plain(text: str) -> str:
    """Return text without control characters and without marks that turn the writing direction."""
    return _BREAKS.sub(" ", _UNSEEN.sub("", text)).strip()


def clipped(text: str, most: int) -> str:
    """Return plain text of at most `most` characters, the last an ellipsis where it was cut."""
    whole = plain(text)
    return whole if len(whole) <= most else whole[: most - 1].rstrip() + "…"


def unbroken(text: str) -> str:
    """Return text in which no line ends within a number or between a number and its unit."""
    return _WITHIN_A_NUMBER.sub("\u00a0", text)


def quoted(name: str, most: int = 48) -> str:
    """Return a name for use within a sentence: clipped, quoted, its direction kept to itself."""
    return f"“\u2068{clipped(name, most)}\u2069”"


def label(text: str, most: int = 40) -> str:
    """Return text for use within a figure, where the drawing library reads markup."""
    return escape(clipped(text, most), quote=False)


def count(number: int) -> str:
    """Return a count in groups of three digits, parted by narrow spaces."""
    return words.count(number).replace(" ", NARROW_SPACE)


def share(value: float, rounding: Rounding = Rounding.NEAREST) -> str:
    """Return a fraction as a percentage, worded as everywhere else, with no break before its sign."""
    return words.share(value, rounding).replace(" %", f"{NARROW_SPACE}%")


def level(value: float) -> str:
    """Return a given level, such as a confidence or a quantile's fraction, as a percentage."""
    return words.level(value).replace(" %", f"{NARROW_SPACE}%")


def chance(given: Chance) -> str:
    """Return a chance with its interval, whose ends are rounded outwards."""
    low, high = share(given.low, Rounding.DOWN), share(given.high, Rounding.UP)
    return f"{share(given.value)} ({low.removesuffix(f'{NARROW_SPACE}%')} to {high})"


def amount(value: float, unit: str, digits: int = 3) -> str:
    """Return an SI value as a page shows it, with a true minus sign and no break before the unit."""
    return with_powers(humanise(value, unit, digits).replace("-", "−").replace(" ", "\u00a0"))


def with_powers(unit: str) -> str:
    """Return a unit, or a value with one, whose squares and cubes are raised."""
    return _POWER.sub(lambda found: found.group().translate(_RAISED), unit)


def difference(given: Chance | Difference) -> str:
    """Return a difference in chance in percentage points, signed, with its interval."""
    digits = _digits(given)
    value, low, high = (_points(part, digits) for part in (given.value, given.low, given.high))
    return f"{value} points ({low} to {high})"


def bare(given: Chance | Difference) -> str:
    """Return a chance or a difference without its interval, as a label beside a mark."""
    return _points(given.value, _digits(given)) if isinstance(given, Difference) else share(given.value)


def _points(fraction: float, digits: int) -> str:
    return f"{100 * fraction:+.{digits}f}".replace("-", "−")


def gain(given: Chance | Difference) -> str:
    """Return a difference in chance in percentage points, signed, without its interval."""
    return _points(given.value, _digits(given))


def number(value: float) -> str:
    """Return a number near one, such as an index, to two decimals, with a true minus sign."""
    return f"{value:.2f}".replace("-", "−").replace("−0.00", "0.00")


def number_interval(given: Chance) -> str:
    """Return a number near one with its interval, whose ends are rounded outwards."""
    low, high = math.floor(100 * given.low + 1e-9) / 100, math.ceil(100 * given.high - 1e-9) / 100
    return f"{number(given.value)} ({number(low)} to {number(high)})"


def places(ranks: tuple[int, int]) -> str:
    """Return the best and the worst place something may have."""
    best, worst = ranks
    return f"{best}" if best == worst else f"{best} to {worst}"


def small(value: float, rounding: Rounding = Rounding.NEAREST) -> str:
    """Return a small chance with three figures, in powers of ten where they are needed."""
    mantissa, times, power = chance_text(value, rounding).partition("e")
    return f"{mantissa}\u00a0×\u00a010{power.translate(_RAISED)}" if times else mantissa


def _digits(given: Chance | Difference) -> int:
    """Return the decimals that the width of the interval bears."""
    half = 50 * (given.high - given.low)
    return min(max(1 - math.floor(math.log10(half)), 0), 9) if half > 0 else 1
