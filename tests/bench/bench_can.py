"""How long the CAN calculations take, as ratios from one run (`uv run python` on this file).

Ratios carry over from machine to machine, times do not. python-can has no bit-level code; its log
reader is the only part that does the same work as ours.
"""

from collections.abc import Callable
from io import StringIO
from timeit import repeat

from can.io.canutils import CanutilsLogReader

from labkit.fieldbus.can import Frame, LogLine, Message, MessageSet, arbitrate, decode, encode
from labkit.fieldbus.can.bits import crc15, number_bits

LINES = [
    f"({number / 1000:.6f}) can0 {number % 0x800:03X}#{number * 2654435761 % 2**64:016X} R"
    for number in range(500)
]


def best_us(work: Callable[[], object], times: int = 20) -> float:
    """Microseconds of one call, the best of five rounds."""
    return min(repeat(work, number=times, repeat=5)) / times * 1e6


def plan(messages: int) -> MessageSet:
    """Invented messages at 500 kbit/s that load the bus to about 60 %."""
    period = 0.27 * messages / 0.6
    return MessageSet.of(
        500,
        [
            Message(f"m{n}", 16 * n, round(period * (0.7 + n / messages), 2))
            for n in range(messages)
        ],
    )


def main() -> None:
    """Print the ratios."""
    frame = Frame.from_hex("42F", "00 01 00 44 33 22 11")
    levels = encode(frame).levels
    header = number_bits(0x42F << 68, 83)
    encoding = best_us(lambda: encode(frame), 200)
    decoding = best_us(lambda: decode(levels), 200)
    crc = best_us(lambda: crc15(header), 200)
    both = best_us(lambda: arbitrate({"a": frame, "b": Frame(0x430)}), 200)
    ours = best_us(lambda: [LogLine.from_text(line) for line in LINES])
    theirs = best_us(lambda: list(CanutilsLogReader(StringIO("\n".join(LINES)))))
    small, large = plan(20), plan(80)
    few, many = best_us(small.responses, 5), best_us(large.responses, 2)
    print(f"decode / encode of one frame            {decoding / encoding:6.2f}")
    print(f"CRC alone / encode                      {crc / encoding:6.2f}")
    print(f"arbitration of two / encode             {both / encoding:6.2f}")
    print(f"500 log lines, ours / python-can        {ours / theirs:6.2f}")
    print(f"responses of 80 messages / of 20        {many / few:6.2f}  (squared would be 16)")
    print(f"(for scale: encode {encoding:.0f} us, 80 messages {many / 1000:.1f} ms)")


if __name__ == "__main__":
    main()
