"""How many bits a frame occupies on the bus: exact, at least, at most; and how long that takes.

Lengths include the three bits of interframe space unless said otherwise: that is the time after
which the next frame can start.
"""

from collections.abc import Iterable
from fractions import Fraction

from labkit.fieldbus import checked
from labkit.fieldbus.can.frame import MAX_DATA_BYTES, Frame
from labkit.fieldbus.can.wire import INTERMISSION_BITS, encode
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.result import RuleResult

STUFFABLE_BASE_BITS = 34
"""Bits open to stuffing besides the data, 11-bit identifier (Davis et al. 2007)."""

STUFFABLE_EXTENDED_BITS = 54
"""Bits open to stuffing besides the data, 29-bit identifier (Davis et al. 2007)."""

FIXED_FORM_BITS = 13
"""CRC delimiter, acknowledge slot and delimiter, end of frame and interframe space."""

SOURCE = (
    "Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007), equations 1 and 2 (their numbers "
    "from memory)"
)


def exact_bits(frame: Frame, *, interframe_space: bool = True) -> int:
    """Return the bits that this very frame occupies, its stuff bits counted."""
    return len(encode(frame).bits) + (INTERMISSION_BITS if interframe_space else 0)


def unstuffed_bits(data_bytes: int, *, extended: bool = False) -> int:
    """Return the bits of a frame without any stuff bit: 47 + 8n, or 67 + 8n extended.

    A lower bound for `exact_bits`. A remote frame has n = 0, whatever its length code.
    """
    return _stuffable_bits(data_bytes, extended) + FIXED_FORM_BITS


def worst_case_bits(data_bytes: int, *, extended: bool = False) -> int:
    """Return the most bits that a frame with `data_bytes` bytes can occupy.

    C = 8n + g + 13 + ⌊(g + 8n − 1) / 4⌋ with g = 34 (11-bit) or 54 (29-bit identifier): Davis,
    Burns, Bril, Lukkien 2007. One stuff bit after the first five bits and after each four more.
    The fixed bits and the CRC keep real frames from that pattern: a search of every frame (in the
    tests) finds the longest data frames one to three bits shorter.
    """
    stuffable = _stuffable_bits(data_bytes, extended)
    return stuffable + FIXED_FORM_BITS + (stuffable - 1) // 4


def bit_time_us(bit_rate_kbps: float) -> float:
    """Return the duration of one bit in µs at a bit rate in kbit/s."""
    return float(1000 / _rate(bit_rate_kbps))


def duration_us(bits: int, bit_rate_kbps: float) -> float:
    """Return how long `bits` bits take, in µs, at a bit rate in kbit/s."""
    count = checked.whole(bits, "The number of bits", 0, 1 << 40, "count them")
    return float(count * 1000 / _rate(bit_rate_kbps))


def logged_load(frames: Iterable[Frame], bit_rate_kbps: float, window_s: float) -> float:
    """Return the bus load 0 to 1 that `frames` make within a window of `window_s` seconds.

    load = Σ exact bits / (bit rate · window), interframe space counted. Raises `PlanError` if the
    frames do not fit into the window, which no bus can show.
    """
    window = checked.exact(window_s, "The window", "s", "give the length of the log in seconds")
    available = window * _rate(bit_rate_kbps) * 1000
    used = sum(exact_bits(frame) for frame in frames)
    # The last frame's interframe space may reach beyond the window.
    if used - INTERMISSION_BITS > available:
        raise PlanError(
            f"The frames take {used} bits, but {float(available):g} bits fit into the window of "
            f"{window_s:g} s at {bit_rate_kbps:g} kbit/s: check the window and the bit rate."
        )
    return min(1.0, float(used / available))


def load_rule(load: float, limit: float, where: str, source: str) -> RuleResult:
    """Return the rule "bus load at most `limit`" (both 0 to 1) in per cent."""
    found = checked.exact(load, "The bus load", "", "give it as 0 to 1", zero=True)
    most = checked.exact(limit, "The limit of the bus load", "", "give it as 0 to 1")
    return RuleResult("bus load", float(found * 100), float(most * 100), "%", where, source)


def _stuffable_bits(data_bytes: int, extended: bool) -> int:
    count = checked.whole(
        data_bytes, "The number of data bytes", 0, MAX_DATA_BYTES, "a classical frame has 0 to 8"
    )
    checked.flag(extended, "The mark for a 29-bit identifier")
    return 8 * count + (STUFFABLE_EXTENDED_BITS if extended else STUFFABLE_BASE_BITS)


def _rate(bit_rate_kbps: float) -> Fraction:
    return checked.exact(bit_rate_kbps, "The bit rate", "kbit/s", "for instance 125")
