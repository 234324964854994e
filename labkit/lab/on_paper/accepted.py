"""What else than the right number is accepted, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from labkit.lab.quantity import Unit

_MOST_PLACES: Final = 12


def accepted_span(key: Mapping[str, Any], unit: Unit) -> str:
    """The accepted span of a number, as finely as it and its tolerance are given."""
    value, tolerance = key["value"], key["tolerance"]
    if not tolerance:
        return f"exactly {value:.10g} {unit.symbol}".rstrip()
    places = max(_places(tolerance), key.get("decimals", 0))
    low, high = rounded_inwards(value - tolerance, value + tolerance, places)
    return f"{low:.{places}f} to {high:.{places}f} {unit.symbol}".rstrip()


def rounded_inwards(low: float, high: float, places: int) -> tuple[float, float]:
    """The ends of a span, rounded into it: what the sheet says is accepted, is."""
    scale = 10**places
    return math.ceil(round(low * scale, 6)) / scale, math.floor(round(high * scale, 6)) / scale


def _places(tolerance: float) -> int:
    """Decimals that tell the ends of the span: 0.05 → 2, 0.023 → 3, 1.8 → 1, 20 → 0."""
    places = 0
    while places < _MOST_PLACES and tolerance * 10**places < 1:
        places += 1
    whole = abs(tolerance * 10**places - round(tolerance * 10**places)) < 1e-9
    return places if whole else places + 1
