"""What else than the right number is accepted, in words."""

from __future__ import annotations

import math
from typing import Final

from labkit.kinds.common.number_data import RightNumber
from labkit.kinds.common.span import Span, span_of
from labkit.language.quantity import Unit

_MOST_PLACES: Final = 12


def accepted_span(key: RightNumber, unit: Unit) -> str:
    """The accepted span of a number, as finely as it and its tolerance are given."""
    span = span_of(key)
    if span.rule_at:
        return _one_sided(span, key["value"], key["decimals"], unit)
    value, tolerance = key["value"], key["tolerance"]
    if not tolerance:
        return f"exactly {value:.10g} {unit.symbol}".rstrip()
    places = max(_places(tolerance), key["decimals"])
    low, high = rounded_inwards(value - tolerance, value + tolerance, places)
    return f"{low:.{places}f} to {high:.{places}f} {unit.symbol}".rstrip()


def span_in_words(span: Span, decimals: int, unit: Unit) -> str:
    """The span "from 23.4 m to 30 m", its ends rounded into it."""
    inwards = {"low": Span(span.low, span.high, "low"), "high": Span(span.low, span.high, "high")}
    low = inwards["low"].rounded(span.low, decimals)
    high = inwards["high"].rounded(span.high, decimals)
    return (
        f"from {_short(low)} {unit.symbol}".rstrip() + f" to {_short(high)} {unit.symbol}".rstrip()
    )


def _one_sided(span: Span, value: float, decimals: int, unit: Unit) -> str:
    """The span in words, and the end that the rule sets where it has more digits."""
    words = span_in_words(span, decimals, unit)
    if math.isclose(float(span.rounded(value, decimals)), value, rel_tol=1e-9):
        return words
    least = "least" if span.rule_at == "low" else "most"
    return f"{words} (the {least} is {value:.8g} {unit.symbol}".rstrip() + ")"


def rounded_inwards(low: float, high: float, places: int) -> tuple[float, float]:
    """The ends of a span, rounded into it: what the sheet says is accepted, is."""
    scale = 10**places
    return math.ceil(round(low * scale, 6)) / scale, math.floor(round(high * scale, 6)) / scale


def _short(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def _places(tolerance: float) -> int:
    """Decimals that tell the ends of the span: 0.05 → 2, 0.023 → 3, 1.8 → 1, 20 → 0."""
    places = 0
    while places < _MOST_PLACES and tolerance * 10**places < 1:
        places += 1
    whole = abs(tolerance * 10**places - round(tolerance * 10**places)) < 1e-9
    return places if whole else places + 1
