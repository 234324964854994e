"""How long a trainee waits for the bench's bus. Run: uv run python tests/bench/bench_traffic.py

Times are of the processor, so that a busy machine does not count. Ratios of one run carry over from
machine to machine, times do not; the unit of one ratio is the time that the node's own rules
(`fieldbus.devicenet.startup.react`) need for the polls of the run alone.
"""

from collections.abc import Callable
from time import process_time

from labkit.bench.can.frame_log import frame_log
from labkit.bench.ears import Ears
from labkit.families.devicenet.bench.bus import simulate
from labkit.families.devicenet.bench.equipment import BusDevice, Equipment, Master
from labkit.families.devicenet.bench.log_words import read_frame_log
from labkit.fieldbus.devicenet.connections import (
    ConnectionKind,
    allocation_requests,
    poll_exchange,
)
from labkit.fieldbus.devicenet.node import Node
from labkit.fieldbus.devicenet.scanlist import ScanEntry
from labkit.fieldbus.devicenet.startup import Received, TimePasses, come_on_line, react

POLL = ConnectionKind.POLL


def bench(nodes: int, rate: int = 125) -> tuple[list[BusDevice], Ears, Master]:
    devices = [BusDevice("scanner", 0, rate, Equipment(7, 1000, 0, 0))]
    devices += [
        BusDevice(f"node {at}", at, rate, Equipment(7, 1000 + at, 1, 1)) for at in range(1, nodes)
    ]
    entries = tuple(ScanEntry(at, POLL, 1, 1) for at in range(1, nodes))
    ears = Ears.groups([each.name for each in devices])
    return devices, ears, Master("scanner", entries, 20.0)


def best_s(work: Callable[[], object], rounds: int = 5) -> float:
    best = float("inf")
    for _ in range(rounds):
        start = process_time()
        work()
        best = min(best, process_time() - start)
    return best


def rules_alone(polls: int) -> None:
    """As many polls as the run has, through the node's rules and nothing else."""
    node = come_on_line(Node(5, 7, 1005, b"\1", output_bytes=1)).node
    for frame in allocation_requests(5, 0, {POLL: 80}):
        node = react(node, Received(*frame.pair)).node
    poll = Received(*poll_exchange(5, b"\1", b"")[0].pair)
    for _ in range(polls):
        node = react(node, TimePasses(0.02)).node
        node = react(node, poll).node


def main() -> None:
    """Print times of this run and ratios."""
    ten = bench(10)
    trace = simulate(*ten, 5.0)
    polls = sum(each.frame.identifier & 0x607 == 0x405 for each in trace.frames)
    took = best_s(lambda: simulate(*ten, 5.0))
    rules = best_s(lambda: rules_alone(polls))
    print(f"10 nodes, 5 s, polls every 20 ms: {len(trace.frames)} frames, {took:.3f} s (goal 0.3)")
    print(f"the same / its {polls} polls through the node's rules alone  {took / rules:5.1f}")
    connected = best_s(lambda: simulate(*ten, 7.7)) - best_s(lambda: simulate(*ten, 2.7))
    print(
        f"5 s with everybody connected: {connected:.3f} s, {connected / took:.1f} of the first 5 s"
    )
    many = bench(60, 500)
    frames = len(simulate(*many, 3.5).frames)
    large = best_s(lambda: simulate(*many, 3.5), 2)
    print(f"a frame among 60 nodes / among 10  {large / frames / (took / len(trace.frames)):5.1f}")
    alone = [BusDevice("alone", 5, 500, Equipment(7, 1))]
    lonely = simulate(alone, Ears({}), None, 5.0)
    time = best_s(lambda: simulate(alone, Ears({}), None, 5.0), 2)
    print(f"one node alone, 5 s at 500 kbit/s: {len(lonely.frames)} frames, {time:.3f} s")
    text = frame_log(trace)
    print(f"writing the log / playing the run  {best_s(lambda: frame_log(trace)) / took:5.2f}")
    print(f"reading it in words / playing      {best_s(lambda: read_frame_log(text)) / took:5.2f}")


if __name__ == "__main__":
    main()
