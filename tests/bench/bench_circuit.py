"""How quick the DC circuits are, in ratios from one run.

    uv run python tests/bench/bench_circuit.py

Needs ngspice, and for the in-process row Debian's libngspice0; a row is left out without them.
Each time is the best of several; the reference library NumPy runs on one thread.
"""

import ctypes
import ctypes.util
import gc
import os
import random
import re
import resource
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np

from labkit.fieldbus.circuit import (
    Circuit,
    CurrentLoad,
    Element,
    LoadStudy,
    Resistor,
    Short,
    VoltageSource,
    all_resistances,
    solve,
)
from labkit.fieldbus.circuit.elimination import Elimination

GOAL = 10.0
AGREE_VOLT = 1e-6


def ladder(count: int) -> list[Element]:
    """A supply, V+ and V− conductors, and a device between them at each of `count` taps."""
    elements: list[Element] = [VoltageSource("ps", "p0", "m0", 24.0)]
    for k in range(1, count + 1):
        elements.append(Resistor(f"r{k}", f"p{k - 1}", f"p{k}", 0.64 / count))
        elements.append(Resistor(f"b{k}", f"m{k - 1}", f"m{k}", 0.64 / count))
        ampere = 3.0 / count * (0.5 + (k * 37 % 100) / 100)
        elements.append(CurrentLoad(f"n{k}", f"p{k}", f"m{k}", ampere))
    return elements


def resistive(count: int) -> list[Element]:
    """The same with devices as resistors, so that the links are no tree."""
    return [
        Resistor(e.name, *e.ends, 24.0 / e.ampere) if isinstance(e, CurrentLoad) else e
        for e in ladder(count)
    ]


def best(work: Callable[[], object], seconds: float = 0.6, *, collecting: bool = False) -> float:
    """The shortest of the runs that fit into `seconds`, at least five, in s of this thread.

    What other programs take of the machine is not counted; a process that `work` starts is not
    either, so time that with `of_children`. Python's garbage collector rests, as in timeit.
    """
    shortest, stop, runs = float("inf"), time.perf_counter() + seconds, 0
    while runs < 5 or time.perf_counter() < stop:
        if not collecting:
            gc.disable()
        start = time.thread_time()
        work()
        shortest = min(shortest, time.thread_time() - start)
        gc.enable()
        runs += 1
    return shortest


def of_children(work: Callable[[], object], runs: int = 30) -> float:
    """What processes that `work` starts take of a processor, in s; the least of some runs."""
    shortest = float("inf")
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        work()
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        shortest = min(shortest, taken)
    return shortest


def deck(elements: list[Element]) -> list[str]:
    lines = ["* ladder"]
    for e in elements:
        a, b = ("0" if end == "m0" else end for end in e.ends)
        if isinstance(e, VoltageSource):
            lines.append(f"V{e.name} {a} {b} {e.volt!r}")
        elif isinstance(e, Resistor):
            lines.append(f"R{e.name} {a} {b} {e.ohm!r}")
        elif isinstance(e, CurrentLoad):
            lines.append(f"I{e.name} {a} {b} {e.ampere!r}")
    return lines


def load_ends(count: int) -> list[tuple[str, str]]:
    return [(f"p{k}", f"m{k}") for k in range(1, count + 1)]


# NumPy: node voltages above m0 with p0 held, conductance matrix of the other nodes.


def dense(elements: list[Element]) -> tuple[np.ndarray, np.ndarray, dict[str, int]]:
    index: dict[str, int] = {}
    for e in elements:
        for end in e.ends:
            if end not in ("p0", "m0"):
                index.setdefault(end, len(index))
    matrix = np.zeros((len(index), len(index)))
    inject = np.zeros(len(index))
    for e in elements:
        a, b = (index.get(end) for end in e.ends)
        if isinstance(e, Resistor):
            g = 1 / e.ohm
            for p, q, end in ((a, b, e.b), (b, a, e.a)):
                if p is None:
                    continue
                matrix[p, p] += g
                if q is not None:
                    matrix[p, q] -= g
                elif end == "p0":
                    inject[p] += 24.0 * g
        elif isinstance(e, CurrentLoad):
            inject[a] -= e.ampere
            inject[b] += e.ampere
    return matrix, inject, index


def dense_volts(elements: list[Element], count: int) -> list[float]:
    matrix, inject, index = dense(elements)
    level = np.linalg.solve(matrix, inject)
    return [float(level[index[a]] - level[index[b]]) for a, b in load_ends(count)]


# ngspice in a process of its own


def batch_volts(elements: list[Element], count: int, folder: Path) -> list[float]:
    wanted = " ".join(f"v({a}) v({b})" for a, b in load_ends(count))
    control = [".control", "set numdgt=12", "op", f"print {wanted}", "quit", ".endc", ".end", ""]
    path = folder / "deck.cir"
    path.write_text("\n".join([*deck(elements), *control]))
    out = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True, check=True)
    level = {
        m[1]: float(m[2]) for m in re.finditer(r"^v\((\w+)\) = (\S+)", out.stdout, re.MULTILINE)
    }
    return [level[a] - level[b] for a, b in load_ends(count)]


# ngspice in this process, through its shared library (sharedspice.h)


class _Vector(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char_p),
        ("kind", ctypes.c_int),
        ("flags", ctypes.c_short),
        ("real", ctypes.POINTER(ctypes.c_double)),
        ("complex", ctypes.c_void_p),
        ("length", ctypes.c_int),
    )


class SharedSpice:
    """The few calls of the shared library that an operating point needs."""

    def __init__(self, path: str) -> None:
        self.library = ctypes.CDLL(path)
        text = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
        leave = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p
        )
        self.calls = (text(lambda *_: 0), text(lambda *_: 0), leave(lambda *_: 0))
        self.library.ngSpice_Init(*self.calls, None, None, None, None)
        self.library.ngGet_Vec_Info.restype = ctypes.POINTER(_Vector)

    def load(self, lines: list[str]) -> None:
        rows = [line.encode() for line in (*lines, ".end")]
        array = (ctypes.c_char_p * (len(rows) + 1))(*rows, None)
        assert self.library.ngSpice_Circ(array) == 0

    def command(self, text: str) -> None:
        assert self.library.ngSpice_Command(text.encode()) == 0, text

    def node(self, name: str) -> float:
        return float(self.library.ngGet_Vec_Info(name.encode()).contents.real[0])

    def volts(self, count: int) -> list[float]:
        return [self.node(a) - self.node(b) for a, b in load_ends(count)]


def row(name: str, seconds: float, ours: float, goal: float | None = GOAL) -> None:
    ratio = seconds / ours
    verdict = ""
    if goal is not None:
        verdict = f"goal {goal:g}x: {'met' if ratio >= goal else 'MISSED'}"
    print(f"  {name:<62}{seconds * 1e6:>10.1f} µs {ratio:>8.1f}x  {verdict}")


def agree(name: str, ours: list[float], theirs: list[float]) -> None:
    worst = max(abs(a - b) for a, b in zip(ours, theirs, strict=True))
    assert worst <= AGREE_VOLT, (name, worst)
    print(f"  same answer as {name}: largest difference {worst:.1e} V")


def bench_ladder(count: int = 64) -> None:
    elements = ladder(count)
    amperes = [e.ampere for e in elements if isinstance(e, CurrentLoad)]
    study = LoadStudy(Circuit(elements))
    circuit = Circuit(elements)
    ours = study.voltages(amperes)
    solution = solve(circuit)
    agree("solve", ours, [solution.voltage(*ends) for ends in load_ends(count)])
    fresh = best(lambda: solve(Circuit(elements)))
    again = best(lambda: study.voltages(amperes))
    sweep_only = best(lambda: circuit.wiring.voltages([0.0] * circuit.layout.groups))
    print(f"\nLadder of {count} nodes, ours:")
    print(f"  from elements to voltages {fresh * 1e6:.1f} µs; same circuit, solved again")
    print(f"  {best(lambda: solve(circuit)) * 1e6:.1f} µs; same wiring, new load currents")
    print(f"  {again * 1e6:.1f} µs; of that the bare sweep {sweep_only * 1e6:.1f} µs")

    matrix, inject, _ = dense(elements)
    inverse = np.linalg.inv(matrix)
    agree("dense NumPy", ours, dense_volts(elements, count))
    print("\nAgainst dense NumPy, one thread:")
    row(
        "from elements, matrix assembled in Python, solved",
        best(lambda: dense_volts(elements, count)),
        fresh,
    )
    row(
        "new load currents, matrix kept, np.linalg.solve",
        best(lambda: np.linalg.solve(matrix, inject)),
        again,
    )
    row(
        "new load currents, inverse kept (one product; no goal)",
        best(lambda: inverse @ inject),
        again,
        None,
    )

    if shutil.which("ngspice") is None:
        print("\nngspice is not installed: rows left out")
        return
    print("\nAgainst ngspice:")
    with tempfile.TemporaryDirectory() as folder:
        agree("ngspice batch", ours, batch_volts(elements, count, Path(folder)))
        row(
            "batch: from elements to voltages",
            of_children(lambda: batch_volts(elements, count, Path(folder))),
            fresh,
        )
    bench_shared(elements, ours, fresh, again, count)


def bench_shared(
    elements: list[Element], ours: list[float], fresh: float, again: float, count: int
) -> None:
    path = ctypes.util.find_library("ngspice")
    if path is None:
        print("  libngspice0 is not installed: in-process rows left out")
        return
    spice = SharedSpice(path)
    lines = deck(elements)

    def anew() -> list[float]:
        spice.load(lines)
        spice.command("op")
        volts = spice.volts(count)
        spice.command("destroy all")
        spice.command("remcirc")
        return volts

    agree("ngspice in process", ours, anew())
    row("in process: deck loaded, op, voltages read", best(anew), fresh)
    spice.load(lines)

    def once_more() -> None:
        spice.command("op")
        spice.command("destroy all")

    def altered() -> list[float]:
        for e in elements:
            if isinstance(e, CurrentLoad):
                spice.command(f"alter i{e.name} = {e.ampere!r}")
        spice.command("op")
        volts = spice.volts(count)
        spice.command("destroy all")
        return volts

    agree("ngspice in process, altered", ours, altered())
    row("in process: 64 currents altered, op, voltages read", best(altered), again)
    row("in process: bare op alone, nothing altered or read", best(once_more), again)


def bench_growth() -> None:
    print("\nGrowth with the number of nodes (µs a node; linear: stays level):")
    names = ("tree, fresh", "tree, study", "mesh, fresh", "mesh, again")
    print(f"  {'nodes':>6}" + "".join(f"{name:>14}" for name in names))
    table: dict[int, list[float]] = {}
    for count in (64, 128, 256, 512, 1024, 2048, 4096):
        tree, mesh = ladder(count), resistive(count)
        study = LoadStudy(Circuit(tree))
        amperes = [e.ampere for e in tree if isinstance(e, CurrentLoad)]
        kept = Circuit(mesh)
        table[count] = [
            best(lambda tree=tree: solve(Circuit(tree)), 0.3),
            best(lambda study=study, amperes=amperes: study.voltages(amperes), 0.3),
            best(lambda mesh=mesh: solve(Circuit(mesh)), 0.3),
            best(lambda kept=kept: solve(kept), 0.3),
        ]
        print(f"  {count:>6}" + "".join(f"{t / count * 1e6:>14.2f}" for t in table[count]))
    for k, name in enumerate(names):
        growth = table[4096][k] / table[64][k]
        verdict = "linear" if growth <= 1.5 * 64 else "NOT linear"
        print(f"  {name}: 64 times the nodes take {growth:.0f} times as long: {verdict}")
    for count in (64, 4096):
        wiring = Circuit(resistive(count)).wiring
        assert isinstance(wiring, Elimination)
        weights = sum(len(step[2]) for step in wiring.steps) / count
        print(f"  mesh of {count}: {weights:.2f} weights a node left by the elimination")
    tree = ladder(4096)
    collected = best(lambda: solve(Circuit(tree)), 0.3, collecting=True) / table[4096][0]
    print(
        f"  with the garbage collector on, a fresh tree of 4096 takes {collected:.1f} times as long"
    )


def bench_resistances() -> None:
    """All pairs of the 50 terminals of ten nodes: five conductors, with faults."""
    rng = random.Random(1)
    wires = ("V-", "L", "S", "H", "V+")
    terminals = [f"{wire}{k}" for k in range(10) for wire in wires]
    elements: list[Element] = []
    for k in range(9):
        for wire in wires:
            if (wire, k) not in (("H", 4), ("V+", 7)):
                ohm = rng.uniform(0.05, 0.5)
                elements.append(Resistor(f"{wire}-{k}", f"{wire}{k}", f"{wire}{k + 1}", ohm))
    elements += [Resistor("t0", "H0", "L0", 121.0), Resistor("t9", "H9", "L9", 121.0)]
    elements += [Short("fault", "L6", "S6"), Resistor("leak", "V+2", "S2", 4700.0)]
    elements += [Resistor(f"in{k}", f"H{k}", f"L{k}", 30e3) for k in range(10)]
    circuit = Circuit([*elements, Resistor("V-e", "V-9", "S9", 0.1)])
    readings = all_resistances(circuit, terminals)
    pairs = len(readings) // 2 - len(terminals) // 2
    fresh = best(lambda: all_resistances(Circuit(circuit.elements), terminals))
    print(
        f"\n{pairs} resistance readings of a ten-node bench with four faults: {fresh * 1e3:.2f} ms,"
    )
    opens = sum(map(np.isinf, readings.values())) // 2
    print(f"  {fresh / pairs * 1e6:.2f} µs a reading, {opens} of them open")


if __name__ == "__main__":
    bench_ladder()
    bench_growth()
    bench_resistances()
