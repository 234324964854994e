"""Readings of a rig as they stand on paper and on the screen."""

from __future__ import annotations

import math

from labkit.bench.meter import ohms_shown, volts_shown
from labkit.bench.rig.probes import OHMS, Probe
from labkit.bench.rig.spans import Span


def shown(probe: Probe, value: float) -> str:
    """A value as the meter shows it, with its unit."""
    if math.isinf(value):
        return "open"
    text = (ohms_shown if probe.instrument == OHMS else volts_shown)(value).text
    return text.replace("-", "−")


def between(probe: Probe, span: Span) -> str:
    """From where to where a reading may lie: "57.7 to 63.1 Ω"."""
    low = _short(span.low)
    if math.isinf(span.high):
        return f"{low} {probe.unit} or more, open"
    return f"{low} to {_short(span.high)} {probe.unit}"


def _short(value: float) -> str:
    """Two decimals below ten, one above: a hand meter has no more to be sure of."""
    decimals = 2 if abs(value) < 10 else 1 if abs(value) < 1000 else 0
    return f"{value:.{decimals}f}".replace("-", "−")
