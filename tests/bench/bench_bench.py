"""The bench's speed, in processor seconds and bytes of one run: readings, task file, debrief.

uv run --frozen python tests/bench/bench_bench.py [--all]
"""

import json
import sys
import time
from collections.abc import Callable
from typing import Any

from labkit.bench.actions import PowerOff
from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.debrief import look_back, usual_measurements
from labkit.bench.faults import Broken
from labkit.bench.measurements import Ohms
from labkit.bench.possible import possible_faults
from labkit.bench.recording import record
from labkit.bench.session import Session
from labkit.bench.situation import Situation, Terminal
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.faults import Babbling
from labkit.families.devicenet.bench.measurements import Indicators
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap


def setup(count: int) -> Setup:
    taps = tuple(
        Tap(5.0 + 8 * k, Drop(1.0 + k % 4, (Device(f"node {k}", 0.1 + 0.01 * k, k),)))
        for k in range(count)
    )
    plan = Network(125, (Segment("thick", 10.0 + 8 * count),), taps, (Supply(4 * count + 0.5),))
    return Setup(plan, "node 0")


def seconds(what: str, run: Callable[[], Any]) -> Any:
    begin = time.process_time()
    found = run()
    print(f"{what:<58}{time.process_time() - begin:9.3f} s")
    return found


def main() -> None:
    ten = setup(10)
    fault = Broken("tap 4, right", CAN_H)
    faulty = Bench(ten, frozenset({fault}))
    on = Situation(power=True)
    terminals = [Terminal(device, n) for device in ten.layout.devices for n in range(1, 6)]
    seconds("1,225 resistances of 50 terminals", lambda: faulty.foresee(terminals))
    text = json.dumps({"setup": ten.to_json(), "faults": [to_json(fault)]})

    def first() -> str:
        data = json.loads(text)
        bench = Bench(
            Setup.from_json(data["setup"]), frozenset(map(fault_from_json, data["faults"]))
        )
        return Ohms(Terminal("node 7", 4), Terminal("node 7", 2)).take(bench).text

    seconds("from the task file's JSON to the first reading", first)
    for count in (10, 20):
        bench = Bench(setup(count))
        data = seconds(f"recording of {count} devices", lambda bench=bench: record(bench))
        print(f"{f'  its size, {count} devices':<58}{len(json.dumps(data)):9,} bytes")
    seconds("power-up, healthy", lambda: Bench(ten, situation=on).trace)
    seconds("power-up, a trunk open", lambda: faulty.standing(on).trace)
    babbler = Bench(ten, frozenset({Babbling("node 3")}), on)
    seconds("power-up, a babbler", lambda: babbler.trace)
    dead = Session.at(faulty).take(Ohms(terminals[3], terminals[1]))
    faults, choices = possible_faults(ten), usual_measurements(ten)
    seconds("look back, 10 devices, power off", lambda: look_back(dead, faults, choices))
    meter = [choice for choice in choices if not isinstance(choice, Indicators)]
    live = Session.at(faulty.standing(on)).take(Indicators()).take(PowerOff())
    live = live.take(Ohms(terminals[3], terminals[1]))
    seconds("look back, 10 devices, indicators watched", lambda: look_back(live, faults, meter))
    if "--all" in sys.argv:
        seconds("the same, indicators among the advice", lambda: look_back(live, faults, choices))


if __name__ == "__main__":
    main()
