"""Benches of Modbus and CANopen beside one of DeviceNet, ten stations each, and the proof of a lab
of each.

Processor seconds of one run, and what each takes of what DeviceNet takes, which stands last;
commands whole.

uv run --frozen python tests/bench/bench_bench_families.py
"""

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_bench import setup as devicenet

from labkit.bench.bench import Bench
from labkit.bench.faults import DeviceDead
from labkit.bench.lookback import told
from labkit.bench.measurements import Measurement
from labkit.bench.recording import record
from labkit.bench.session import Session
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.families.canopen.bench.setup import Setup as CanopenSetup
from labkit.families.modbus.bench.setup import Setup as ModbusSetup
from labkit.fieldbus.canopen import Bus, BusNode
from labkit.fieldbus.modbus import Device, Network, Polarization, Tap, Terminator

LABS = Path(__file__).parents[2] / "labs"
SMALL_LABS = Path(__file__).parents[1] / "lab" / "labs"
DRAWS = "30"
LIVE = Situation(power=True)


def modbus(count: int) -> Setup:
    taps = tuple(
        Tap.to(5.0 + 8 * k, Device(f"node {k}", k or None, master=not k), derivation=1.0 + k % 4)
        for k in range(count)
    )
    length = 10.0 + 8 * count
    plan = Network(
        length,
        taps,
        (Terminator(0.0, 120), Terminator(length, 120)),
        (Polarization("node 0", 510, 510),),
        ("node 0",),
    )
    return ModbusSetup(plan, "node 0", tries=3)


def canopen(count: int) -> Setup:
    nodes = tuple(BusNode(f"node {k}", 5.0 + 8 * k, 1.0 + k % 4, 1 + k) for k in range(count))
    length = 10.0 + 8 * count
    return CanopenSetup(Bus(length, 250, nodes, (0.0, length)), "node 0")


def processor_s(run: Callable[[], Any]) -> float:
    begin = time.process_time()
    run()
    return time.process_time() - begin


def command_s(lab: Path) -> float:
    def spent() -> float:
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        return used.ru_utime + used.ru_stime

    before = spent()
    file = str(lab / "lab.md")
    command = [sys.executable, "-m", "labkit", "proof", file, "--draws", DRAWS]
    subprocess.run(command, check=False, stdout=subprocess.DEVNULL)
    return spent() - before


def read(setup: Setup, measurement: Measurement) -> Callable[[], Any]:
    """Taken at a bench that nobody has asked anything yet."""
    return lambda: measurement.take(Bench(setup, frozenset({DeviceDead("node 7")}), LIVE))


def looked_back(setup: Setup) -> Any:
    start = Bench(setup, frozenset({DeviceDead("node 7")}), LIVE)
    return told(Session.at(start).take(setup.report))


def main() -> None:
    families: tuple[Setup, ...] = (modbus(10), canopen(10), devicenet(10))
    rows: list[tuple[str, list[float]]] = []
    steps: tuple[tuple[str, Callable[[Setup], Callable[[], Any]]], ...] = (
        ("the report, first step", lambda each: read(each, each.report)),
        ("lamps, 6 s", lambda each: read(each, each.watches()[0])),
        ("lamps, 20 s", lambda each: read(each, each.watches()[1])),
        ("recording", lambda each: lambda: record(Bench(each))),
        ("look back at a report", lambda each: lambda: looked_back(each)),
    )
    for what, of in steps:
        rows.append((what, [processor_s(of(each)) for each in families]))
    labs = LABS / "modbus-faults", SMALL_LABS / "canopen-bus", LABS / "troubleshooting"
    names = " / ".join(lab.name for lab in labs)
    rows.append((f"proof of {names}, {DRAWS} draws", [command_s(lab) for lab in labs]))
    for what, seconds in rows:
        *others, first = seconds
        ratios = "".join(f"{each / first:8.2f}" for each in others)
        print(f"{what:70}{''.join(f'{each:8.2f}' for each in seconds)}{ratios}")


if __name__ == "__main__":
    main()
