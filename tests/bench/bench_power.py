"""Benchmark: voltages of a 64-node network by the sweep, by ngspice, by dense NumPy; and growth.

Run: uv run python tests/bench/bench_power.py. Same answer to 1e-6 V is checked before timing.
"""

import os
from functools import partial

os.environ.setdefault("OMP_NUM_THREADS", "1")

import re
import resource
import subprocess
import tempfile
import time
import timeit
from collections.abc import Callable
from pathlib import Path

import numpy as np

from labkit.fieldbus.devicenet.feedtree import FeedTree
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.devicenet.power import solve_power

THICK, THIN, CONTACT = 0.0089, 0.0574, 0.005  # ohm/m, ohm/m, ohm: ODVA PUB00027R1
SPACING, DROP = 3.0, 2.0  # m
CURRENT, POWER = 0.03, 0.72  # A, W a node
SOURCE = 24.0
TAIL = 4.0


def chain(nodes: int, scale: float = 1.0) -> FeedTree:
    """A trunk with a tap every 3 m and a 2 m drop at each: 2 tree nodes for a device."""
    parents, ohms = [0], [0.0]
    trunk = 0
    for _ in range(nodes):
        parents.append(trunk)
        ohms.append(2 * (SPACING * THICK + CONTACT) * scale)
        trunk = len(parents) - 1
        parents.append(trunk)
        ohms.append(2 * DROP * THIN)
    return FeedTree(tuple(parents), tuple(ohms))


def plan(nodes: int, power: bool, scale: float = 1.0) -> Network:
    """The same as a plan; `scale` lessens the loads of a long trunk, so that it can feed them."""
    taps = []
    for n in range(nodes):
        watts, amperes = (POWER * scale, 0.0) if power else (None, CURRENT * scale)
        taps.append(Tap(SPACING * (n + 1), Drop(DROP, (Device(f"n{n}", amperes, None, watts),))))
    return Network(125, (Segment("thick", SPACING * nodes),), tuple(taps), (Supply(0),))


def netlist(nodes: int, power: bool) -> str:
    """V+ and V- each as resistors of their own."""
    lines = ["bench", f"V1 pt0 0 {SOURCE}", "V2 mt0 0 0"]
    for n in range(1, nodes + 1):
        for c in "pm":
            lines.append(f"Rt{c}{n} {c}t{n - 1} {c}t{n} {SPACING * THICK + CONTACT:.17g}")
            lines.append(f"Rd{c}{n} {c}t{n} {c}d{n} {DROP * THIN:.17g}")
        if power:
            u = f"V(pd{n},md{n})"
            lines.append(f"B{n} pd{n} md{n} I = {u} > {TAIL} ? {POWER}/{u} : {POWER}*{u}/{TAIL**2}")
        else:
            lines.append(f"I{n} pd{n} md{n} {CURRENT}")
    probes = [f"print v(pd{n},md{n})" for n in range(1, nodes + 1)]
    lines += [".options reltol=1e-9 abstol=1e-13 vntol=1e-10 gmin=1e-15", ".control"]
    return "\n".join([*lines, "set numdgt=12", "op", *probes, ".endc", ".end", ""])


def spice(deck: Path) -> list[float]:
    run = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, check=False)
    return [float(v) for v in re.findall(r"^v\(pd\d+,md\d+\) = (\S+)$", run.stdout, re.MULTILINE)]


class Dense:
    """Nodal analysis with a full matrix, built beforehand; only the solution is timed."""

    def __init__(self, tree: FeedTree) -> None:
        count = len(tree)
        matrix = np.zeros((count, count))
        for node in range(1, count):
            up, siemens = tree.parents[node], 1 / tree.resistances[node]
            matrix[node, node] += siemens
            matrix[up, up] += siemens
            matrix[node, up] -= siemens
            matrix[up, node] -= siemens
        self.matrix = matrix[1:, 1:].copy()
        self.fed = -matrix[1:, 0] * SOURCE

    def currents(self, loads: np.ndarray) -> np.ndarray:
        return np.linalg.solve(self.matrix, self.fed - loads)

    def powers(self, watts: np.ndarray) -> np.ndarray:
        volts = np.full(len(self.fed), SOURCE)
        diagonal = np.diag_indices(len(self.fed))
        for _ in range(50):
            jacobian = self.matrix.copy()
            jacobian[diagonal] -= watts / volts**2
            found = np.linalg.solve(jacobian, self.fed - 2 * watts / volts)
            change = np.abs(found - volts).max()
            volts = found
            if change < 1e-7:
                break
        return volts


def best_of(call: Callable[[], object], seconds: float = 0.4, repeat: int = 5) -> float:
    """Seconds a call takes of this thread, whatever else the machine does; the fastest of runs."""
    once = timeit.timeit(call, number=1)
    number = max(1, int(seconds / repeat / max(once, 1e-7)) // 10)
    runs = timeit.repeat(call, number=number, repeat=10 * repeat, timer=time.thread_time)
    return min(runs) / number


def of_children() -> float:
    """Seconds of a processor that ended child processes have taken: a clock for batch runs."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def report(kind: str, power: bool, folder: Path) -> None:
    tree, network = chain(64), plan(64, power)
    ends = list(range(2, len(tree), 2))
    amperes = [0.0] * len(tree)
    watts = dict.fromkeys(ends, POWER)
    if not power:
        for node in ends:
            amperes[node] = CURRENT

    def sweep() -> list[float]:
        if power:
            return tree.solve({0: SOURCE}, amperes, watts).volts
        return tree.sweep(SOURCE, amperes)[0]

    dense = Dense(tree)
    array = np.zeros(len(tree) - 1)
    array[1::2] = POWER if power else CURRENT
    full = partial(dense.powers if power else dense.currents, array)
    deck = folder / "bench.cir"
    deck.write_text(netlist(64, power))

    ours = sweep()
    by_spice, by_numpy = spice(deck), full()
    by_plan = solve_power(network).voltages
    apart = max(abs(ours[node] - by_spice[n]) for n, node in enumerate(ends))
    apart = max(apart, *(abs(ours[node] - by_numpy[node - 1]) for node in ends))
    apart = max(apart, *(abs(ours[node] - by_plan[f"n{n}"]) for n, node in enumerate(ends)))
    assert apart < 1e-6, apart

    t_sweep, t_plan, t_numpy = (
        best_of(sweep),
        best_of(lambda: solve_power(network)),
        best_of(full),
    )
    t_spice = min(timeit.repeat(lambda: spice(deck), number=1, repeat=30, timer=of_children))
    print(f"64 nodes, {kind}; lowest {min(ours):.3f} V; answers apart {apart:.1e} V")
    print(f"  sweep of a prepared tree   {t_sweep * 1e6:9.1f} us")
    print(f"  whole plan, with all rules {t_plan * 1e6:9.1f} us")
    print(f"  dense NumPy, matrix ready  {t_numpy * 1e6:9.1f} us  {t_numpy / t_sweep:7.1f} x sweep")
    print(
        f"  ngspice, batch run         {t_spice * 1e6:9.1f} us  {t_spice / t_sweep:7.1f} x sweep, "
        f"{t_spice / t_plan:.1f} x whole plan"
    )


def growth() -> None:
    print("growth, constant current and constant power (same drop at every size)")
    first: tuple[float, float] | None = None
    for nodes in (64, 128, 256, 512, 1024, 2048, 4096):
        shrink = (64 / nodes) ** 2
        tree = chain(nodes, shrink)
        ends = range(2, len(tree), 2)
        amperes = [0.0] * len(tree)
        for node in ends:
            amperes[node] = CURRENT
        watts = dict.fromkeys(ends, POWER)
        nothing = [0.0] * len(tree)
        times = (
            best_of(lambda t=tree, a=amperes: t.sweep(SOURCE, a)),
            best_of(lambda t=tree, n=nothing, w=watts: t.solve({0: SOURCE}, n, w)),
        )
        first = first or times
        print(
            f"  {nodes:5d} nodes {times[0] * 1e6:9.1f} us ({times[0] / first[0] / (nodes / 64):.2f}"
            f" of linear) {times[1] * 1e6:10.1f} us ({times[1] / first[1] / (nodes / 64):.2f})"
        )
    print("the same from fresh parts: the plan made, its circuit built and solved")
    base: tuple[float, float] | None = None
    for nodes in (64, 512, 4096):
        scale = (64 / nodes) ** 2
        times = (
            best_of(lambda n=nodes, s=scale: solve_power(plan(n, False, s))),
            best_of(lambda n=nodes, s=scale: solve_power(plan(n, True, s))),
        )
        base = base or times
        print(
            f"  {nodes:5d} nodes {times[0] * 1e3:9.2f} ms ({times[0] / base[0] / (nodes / 64):.2f}"
            f" of linear) {times[1] * 1e3:10.2f} ms ({times[1] / base[1] / (nodes / 64):.2f})"
        )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        report("constant current", False, Path(name))
        report("constant power", True, Path(name))
    growth()
