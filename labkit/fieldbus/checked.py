"""Values as a plan, a switch or a frame gives them: checked, or refused with a sentence."""

from labkit.fieldbus.errors import PlanError

LONGEST_S = 1e9
"""Longest time that a plan may hold, s: some thirty years."""


def whole_number(value: object, what: str, low: int, high: int) -> int:
    """`value` itself, a whole number from `low` to `high`, both included.

    `what` names the thing in the sentence of the `PlanError` that anything else raises; a truth
    value is refused too, since True is no address.
    """
    if isinstance(value, bool) or not isinstance(value, int):
        raise PlanError(
            f"{what} must be a whole number from {low} to {high}, not {value!r}; "
            "write it as digits."
        )
    if not low <= value <= high:
        raise PlanError(
            f"{what} is {value}, outside {low} to {high}; choose a number in that range."
        )
    return value


def byte_string(value: object, what: str, most: int, least: int = 0) -> bytes:
    """`value` as bytes, `least` to `most` of them; a list of byte values is taken too."""
    if isinstance(value, (bytes, bytearray)):
        data = bytes(value)
    elif isinstance(value, (list, tuple)):
        data = bytes(
            whole_number(each, f"byte {at} of {what}", 0, 255) for at, each in enumerate(value)
        )
    else:
        raise PlanError(
            f"{what} must be bytes, not {value!r}; give a list of byte values 0 to 255."
        )
    if not least <= len(data) <= most:
        allowed = f"{least} to {most}" if least != most else str(most)
        raise PlanError(f"{what} holds {len(data)} bytes where {allowed} belong; check its length.")
    return data


def seconds(value: object, what: str, *, above_zero: bool = False) -> float:
    """`value`, in s, a time of zero or more (above zero if `above_zero`)."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise PlanError(f"{what} must be a number, not {value!r}; write it as digits.")
    if not 0.0 <= value <= LONGEST_S:
        raise PlanError(f"{what} is {value}; give a time from 0 to {LONGEST_S:.0e} s.")
    if above_zero and value == 0.0:
        raise PlanError(f"{what} is zero; give a time above zero.")
    return float(value)
