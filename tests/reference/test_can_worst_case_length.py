"""Frame lengths against the published formula and against every frame that exists.

Source of the formula: Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007). The longest frame
of each kind is found here exactly, over all identifiers and all data, by dynamic programming over
(CRC register, last level, run length): the stuff bits still to come depend on nothing else.
"""

from itertools import product

import numpy as np
import pytest
from numpy.typing import NDArray

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.length import exact_bits, unstuffed_bits, worst_case_bits
from labkit.fieldbus.can.wire import encode

REGISTERS = 1 << 15
UNREACHED = -1
FREE = None

Layer = NDArray[np.int16]


def register_after(bit: int) -> NDArray[np.int64]:
    """Where each CRC register goes with `bit`; written with division by the whole polynomial."""
    shifted = (np.arange(REGISTERS) ^ (bit << 14)) << 1
    return np.where(shifted & 0x8000, shifted ^ 0xC599, shifted)


NEXT_REGISTER = {bit: register_after(bit) for bit in (0, 1)}


def shift_runs(layer: Layer, bit: int) -> Layer:
    """Most stuff bits for each (level, run 1 to 4, register) after `bit` in every register."""
    out = np.full_like(layer, UNREACHED)
    out[bit, 0] = layer[1 - bit].max(axis=0)
    out[bit, 1:] = layer[bit, :-1]
    fifth = layer[bit, -1]
    out[1 - bit, 0] = np.where(fifth >= 0, fifth + 1, UNREACHED)
    return out


def after_bit(layer: Layer, bit: int) -> Layer:
    moved = shift_runs(layer, bit)
    out = np.empty_like(moved)
    out[..., NEXT_REGISTER[bit]] = moved
    return out


def most_in_crc(layer: Layer) -> Layer:
    """Add the stuff bits of the CRC sequence, whose bits are the register's own."""
    registers = np.arange(REGISTERS)
    for place in reversed(range(15)):
        bits = registers >> place & 1
        layer = np.where(bits == 0, shift_runs(layer, 0), shift_runs(layer, 1))
    return layer


def layers(pattern: list[int | None]) -> list[Layer]:
    """The layer before and after each bit from behind the start of frame, None for a free bit."""
    first = np.full((2, 4, REGISTERS), UNREACHED, dtype=np.int16)
    # The start of frame is dominant and leaves the register at 0.
    first[0, 0, 0] = 0
    found = [first]
    for bit in pattern:
        last = found[-1]
        choices = (0, 1) if bit is FREE else (bit,)
        steps = [after_bit(last, choice) for choice in choices]
        found.append(np.maximum.reduce(steps))
    return found


def most_stuff_bits(pattern: list[int | None]) -> int:
    return int(most_in_crc(layers(pattern)[-1]).max())


def bits(value: int, width: int) -> list[int | None]:
    return [value >> place & 1 for place in reversed(range(width))]


def pattern(extended: bool, remote: bool, dlc: int) -> list[int | None]:
    """Identifier to data with the fixed bits of ISO 11898-1 and the others free."""
    free: list[int | None] = [FREE]
    rtr = int(remote)
    head = [*free * 11, 1, 1, *free * 18, rtr, 0, 0] if extended else [*free * 11, rtr, 0, 0]
    return [*head, *bits(dlc, 4), *free * (0 if remote else 8 * min(dlc, 8))]


# Base and extended formats: 8n + 47 + floor((34 + 8n - 1) / 4) and 8n + 67 + floor((54 + 8n - 1)
# / 4), the paper's equations 1 and 2, and in its short forms 55 + 10 n and 80 + 10 n.
@pytest.mark.parametrize("data_bytes", range(9))
def test_worst_case_is_the_published_short_form(data_bytes: int) -> None:
    assert worst_case_bits(data_bytes) == 55 + 10 * data_bytes
    assert worst_case_bits(data_bytes, extended=True) == 80 + 10 * data_bytes


# Figures that the paper and much of the trade quote: 135 bits for 8 bytes with an 11-bit, 160 with
# a 29-bit identifier; 125 bits for 7 bytes (the paper's three-message example), from memory.
@pytest.mark.parametrize(
    ("data_bytes", "extended", "expected"), [(8, False, 135), (8, True, 160), (7, False, 125)]
)
def test_worst_case_of_quoted_frames(data_bytes: int, extended: bool, expected: int) -> None:
    assert worst_case_bits(data_bytes, extended=extended) == expected


def step(level: int, run: int, bit: int) -> tuple[int, int, int]:
    """Level, run and stuff bits after one more bit."""
    if bit != level:
        return bit, 1, 0
    return (1 - bit, 1, 1) if run == 4 else (bit, run + 1, 0)


def stuff_bits_in_crc(level: int, run: int, register: int) -> int:
    total = 0
    for place in reversed(range(15)):
        level, run, added = step(level, run, register >> place & 1)
        total += added
    return total


STATES = list(product((0, 1), (1, 2, 3, 4)))


def longest_row(pattern: list[int | None]) -> tuple[int, list[int]]:
    """The most stuff bits, and the bits behind the start of frame that have them."""
    found = layers(pattern)
    finals = most_in_crc(found[-1])
    most = int(finals.max())
    register = int(finals.max(axis=(0, 1)).argmax())
    level, run = next(
        (level, run)
        for level, run in STATES
        if (count := int(found[-1][level, run - 1, register])) >= 0
        and count + stuff_bits_in_crc(level, run, register) == most
    )
    row: list[int] = []
    for place in reversed(range(len(pattern))):
        fixed = pattern[place]
        allowed = (0, 1) if fixed is None else (fixed,)
        bit, level, run, register = step_back(
            found[place], found[place + 1], allowed, (level, run, register)
        )
        row.insert(0, bit)
    return most, row


def step_back(
    before: Layer, after: Layer, allowed: tuple[int, ...], state: tuple[int, int, int]
) -> tuple[int, int, int, int]:
    level, run, register = state
    count = int(after[level, run - 1, register])
    for bit, (old_level, old_run) in product(allowed, STATES):
        old_register = int(np.flatnonzero(NEXT_REGISTER[bit] == register)[0])
        old_count = int(before[old_level, old_run - 1, old_register])
        new_level, new_run, added = step(old_level, old_run, bit)
        if old_count >= 0 and (new_level, new_run, old_count + added) == (level, run, count):
            return bit, old_level, old_run, old_register
    raise AssertionError("no bit leads to this state")


def frame_of(row: list[int], extended: bool, remote: bool, dlc: int) -> Frame:
    text = "".join(map(str, row))
    identifier = int(text[:11] + text[13:31], 2) if extended else int(text[:11], 2)
    body = text[38:] if extended else text[18:]
    data = bytes(int(body[at : at + 8], 2) for at in range(0, len(body), 8))
    return Frame(identifier, data, extended, remote, dlc)


@pytest.mark.parametrize("remote", [False, True])
@pytest.mark.parametrize("extended", [False, True])
def test_no_frame_that_exists_is_longer_than_the_bound(extended: bool, remote: bool) -> None:
    for dlc in (*range(9), 15):
        sent = 0 if remote else min(dlc, 8)
        stuffed, row = longest_row(pattern(extended, remote, dlc))
        longest = unstuffed_bits(sent, extended=extended) + stuffed
        # The longest frame is a real one, and the library counts as many bits in it.
        frame = frame_of(row, extended, remote, dlc)
        assert exact_bits(frame) == longest
        assert encode(frame).stuff_bits == stuffed
        assert longest <= worst_case_bits(sent, extended=extended)


def test_longest_data_frames_fall_short_of_the_bound_by_one_to_three_bits() -> None:
    # The published bound lets every fifth, then every fourth bit be a stuff bit; fixed bits and the
    # CRC keep real frames from that. Found by the exhaustive search here, no other source.
    for extended in (False, True):
        for dlc in range(9):
            longest = unstuffed_bits(dlc, extended=extended)
            longest += most_stuff_bits(pattern(extended, False, dlc))
            assert 1 <= worst_case_bits(dlc, extended=extended) - longest <= 3


def test_search_agrees_with_trying_every_short_frame() -> None:
    for remote in (False, True):
        tried = max(exact_bits(Frame(number, remote=remote)) for number in range(1 << 11))
        assert tried == unstuffed_bits(0) + most_stuff_bits(pattern(False, remote, 0))
