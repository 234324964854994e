"""The frames of a capture, whose lines may hold a frame, a piece of one, or several.

Lines that follow each other within the silence between frames (V1.02, 2.5.1.1) belong together. A
group is a frame where its CRC fits as a whole. Else frames are cut off its front, one after the
other, where a CRC fits and the bytes read as a message; what lies between them is spoiled. A
single byte of noise before a frame, as a line that turns round makes it, costs no frame.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from labkit.fieldbus.check_sums import CheckSum
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.frame import LEAST_FRAME_BYTES, MOST_FRAME_BYTES, Frame
from labkit.fieldbus.serial.capture import Burst
from labkit.fieldbus.serial.character import CharacterFormat
from labkit.fieldbus.serial.silence import silence

MOST_TOGETHER: Final = 2 * MOST_FRAME_BYTES
"""Bytes that are kept of lines that belong together (our choice: a request and its reply)."""
_MOST_NOISE: Final = 3
"""Bytes before a frame that are taken for noise (our choice)."""
_MOST_STARTS: Final = 16
"""Lines of a spoiled group at which a frame is looked for (our choice)."""
_STEP: Final = [
    CheckSum(16, 0x8005, reflected=True).of_bytes(bytes([value])) for value in range(256)
]
"""The CRC of each byte alone, from zero: what one step of the CRC adds."""
_START: Final = 0xFFFF


@dataclass(frozen=True, slots=True)
class Cut:
    """A frame, or spoiled bytes (`frame` None), from `start_s` to `end_s`.

    `gap_s` is the silence before it, None where the capture does not tell it: nothing came before,
    or it stands on one line with what came before. `timed`: its start is the time of a line.
    `noise` are the bytes right before a frame that belong to nothing.
    """

    start_s: float
    end_s: float
    frame: Frame | None
    gap_s: float | None
    timed: bool
    noise: int = 0


class FrameCutter:
    """Cuts the lines of a capture into frames, at a bit rate in bit/s and a format.

    >>> cutter = FrameCutter(19_200, CharacterFormat())
    >>> list(cutter.take(Burst(0.5, bytes.fromhex("02 07 41 12"))))
    []
    >>> [cut.frame.address for cut in cutter.rest()]
    [2]
    """

    def __init__(self, bit_rate: float, form: CharacterFormat) -> None:
        self._character_s = form.time_s(bit_rate)
        self._between_s = silence(bit_rate, form).between_s
        self._lines: list[Burst] = []
        self._size = 0
        self._end_s: float | None = None

    def take(self, burst: Burst) -> Iterator[Cut]:
        """What is complete now that the next line comes."""
        if self._lines and (self._is_apart(burst) or self._size > MOST_TOGETHER):
            yield from self.rest()
        self._lines.append(burst)
        self._size += len(burst.data)

    def rest(self) -> Iterator[Cut]:
        """What the last lines hold."""
        lines, self._lines, self._size = self._lines, [], 0
        if lines:
            yield from self._cuts(lines)

    def _is_apart(self, burst: Burst) -> bool:
        return burst.time_s - self._line_end_s(self._lines[-1]) >= self._between_s

    def _line_end_s(self, line: Burst) -> float:
        return line.time_s + len(line.data) * self._character_s

    def _cuts(self, lines: list[Burst]) -> Iterator[Cut]:
        starts, data = _joined(lines)
        noise = 0
        for begin, end, frame in _divided(data, list(starts)):
            if frame is None and end - begin <= _MOST_NOISE and end < len(data):
                noise = end - begin
                continue
            line_at = max(at for at in starts if at <= begin)
            start_s = starts[line_at].time_s + (begin - line_at) * self._character_s
            timed = line_at == begin
            gap_s = start_s - self._end_s if timed and self._end_s is not None else None
            last = max(at for at in starts if at < end)
            self._end_s = starts[last].time_s + (end - last) * self._character_s
            yield Cut(start_s, self._end_s, frame, gap_s, timed, noise)
            noise = 0


def _joined(lines: list[Burst]) -> tuple[dict[int, Burst], bytes]:
    """All bytes, and the lines by the place at which each begins."""
    starts: dict[int, Burst] = {}
    size = 0
    for line in lines:
        starts[size] = line
        size += len(line.data)
    return starts, b"".join(line.data for line in lines)


def _divided(data: bytes, starts: list[int]) -> list[tuple[int, int, Frame | None]]:
    """Frames and what lies between them, with the places at which each begins and ends."""
    ends = {*starts[1:], len(data)}
    found: list[tuple[int, int, Frame | None]] = []
    at, tried = 0, 0
    while at < len(data):
        frames = ((begin, _frame_at(data, begin, ends)) for begin in _places(data, at, starts))
        begin, frame = next(((b, f) for b, f in frames if f is not None), (len(data), None))
        tried += begin > at
        if begin > at:
            found.append((at, begin, None))
        if frame is None or tried > _MOST_STARTS:
            return [*found, (begin, len(data), None)] if begin < len(data) else found
        at = begin + len(frame.to_bytes())
        found.append((begin, at, frame))
    return found


def _places(data: bytes, at: int, starts: list[int]) -> list[int]:
    """Where a frame may begin from `at` on: there, after some noise, at the next lines."""
    noise = range(at, min(at + _MOST_NOISE + 1, len(data)))
    return [*noise, *[start for start in starts if start >= noise.stop][:_MOST_STARTS]]


def _frame_at(data: bytes, begin: int, ends: set[int]) -> Frame | None:
    """The frame that begins there: all that is left, or the shortest that reads as one."""
    left = memoryview(data)[begin : begin + MOST_FRAME_BYTES]
    register = _START
    fits = []
    for size, value in enumerate(left, start=1):
        register = register >> 8 ^ _STEP[(register ^ value) & 0xFF]
        if register == 0 and size >= LEAST_FRAME_BYTES:
            fits.append(size)
    if begin + len(left) == len(data) and len(left) in fits:
        return Frame.from_bytes(bytes(left))
    for size in fits:
        frame = Frame.from_bytes(bytes(left[:size]))
        if begin + size in ends or _reads(frame):
            return frame
    return None


def _reads(frame: Frame) -> bool:
    for read in (lambda: frame.request, lambda: frame.reply):
        try:
            read()
        except PlanError:
            continue
        return True
    return False
