"""How fast logs are read and scans are timed. Run: uv run python tests/bench/bench_messages.py

Prints times of this run and ratios between sizes; a ratio near the sizes' own ratio means that
the work grows no faster than its input.
"""

from collections.abc import Callable
from time import perf_counter

from labkit.fieldbus.devicenet.connections import ConnectionKind, poll_exchange
from labkit.fieldbus.devicenet.decoder import decode_log
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.iomap import Alignment, DeviceIo, Layout, place

SIZES = (1000, 10000)


def a_log(frames: int) -> list[tuple[float, int, bytes]]:
    exchanges = [poll_exchange(at % 60 + 1, b"\1\2", b"\3") for at in range(frames // 2)]
    pairs = [frame.pair for exchange in exchanges for frame in exchange]
    return [(at * 1e-3, *pair) for at, pair in enumerate(pairs)]


def timed(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> None:
    times = []
    for size in SIZES:
        log = a_log(size)
        times.append(timed(lambda log=log: decode_log(log)))
        print(f"read a log of {size} frames: {times[-1] * 1e3:.1f} ms")
    print(f"ratio {times[1] / times[0]:.1f} for {SIZES[1] // SIZES[0]} times the frames")
    entries = tuple(ScanEntry(at, ConnectionKind.POLL, 4, 4) for at in range(1, 62))
    scan = ScanList(0, 500, (*entries, ScanEntry(62, ConnectionKind.CYCLIC, 8, 0, 5.0)))
    print(f"bounds of a full scan list: {timed(lambda: scan.scan_time) * 1e3:.2f} ms")
    exact = timed(lambda: scan.exact_scan_ms({}))
    print(f"the same scan with exact stuff bits: {exact * 1e3:.2f} ms")
    devices = [DeviceIo(f"device {at}", at % 9, at % 5) for at in range(63)]
    for layout in Layout:
        took = timed(
            lambda layout=layout: place(
                devices, 512, 512, alignment=Alignment.DOUBLE_WORD, layout=layout
            )
        )
        print(f"place 63 devices {layout.value}: {took * 1e3:.2f} ms")


if __name__ == "__main__":
    main()
