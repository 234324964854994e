"""Asynchronous serial lines: characters, silences, and what a receiver makes of both."""

from labkit.fieldbus.serial.capture import Burst, CaptureReader
from labkit.fieldbus.serial.character import Character, CharacterFormat, Parity, frame_bits
from labkit.fieldbus.serial.listening import Edge, edges_of, listen
from labkit.fieldbus.serial.receiving import Reception, TimedCharacter, split_frames, timed
from labkit.fieldbus.serial.silence import (
    BETWEEN_FRAMES,
    FIXED_ABOVE,
    FIXED_BETWEEN_S,
    FIXED_INSIDE_S,
    INSIDE_A_FRAME,
    Silence,
    silence,
)

__all__ = [
    "BETWEEN_FRAMES",
    "FIXED_ABOVE",
    "FIXED_BETWEEN_S",
    "FIXED_INSIDE_S",
    "INSIDE_A_FRAME",
    "Burst",
    "CaptureReader",
    "Character",
    "CharacterFormat",
    "Edge",
    "Parity",
    "Reception",
    "Silence",
    "TimedCharacter",
    "edges_of",
    "frame_bits",
    "listen",
    "silence",
    "split_frames",
    "timed",
]
