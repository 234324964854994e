"""A small CANopen bus on the bench, for the tests of its family."""

from typing import Any

from labkit.bench.bench import Bench
from labkit.bench.faults import Fault
from labkit.bench.situation import Situation
from labkit.families.canopen.bench.measurements import FrameLog, Indicators, ManagerReport
from labkit.families.canopen.bench.setup import Setup
from labkit.fieldbus.canopen import Bus, BusNode

NAMES = ("feeder", "scale", "gate", "lift", "fan")
NODES = (
    BusNode("controller", 0, 0, 1),
    *(
        BusNode(name, 20.0 * (n + 1), 0.0 if n in (1, 4) else 2.0, 11 + n)
        for n, name in enumerate(NAMES)
    ),
)
PLAN = Bus(100, 250, NODES, (0, 100), 50, 0.5)
SETUP = Setup(PLAN, "controller")
SMALL = Setup(Bus(100, 250, (*NODES[:3], NODES[5]), (0, 100), 50, 0.5), "controller")
LIVE = Situation(power=True)


def bench(*faults: Fault, setup: Setup = SETUP) -> Bench:
    return Bench(setup, frozenset(faults), LIVE)


def lamps(*faults: Fault, setup: Setup = SETUP) -> dict[str, tuple[str, str]]:
    """How run and error lamp of each node look at the end."""
    detail: dict[str, Any] = Indicators().take(bench(*faults, setup=setup)).detail
    return {
        name: (looks["network"][-1][1], looks["module"][-1][1]) for name, looks in detail.items()
    }


def report(*faults: Fault, setup: Setup = SETUP) -> dict[str, str]:
    """What the manager says, by what it begins with: "node 11" and so on."""
    clauses = ManagerReport().take(bench(*faults, setup=setup)).text.split("; ")
    return {" ".join(each.split(" ")[:2]): " ".join(each.split(" ")[2:]) for each in clauses}


def log(*faults: Fault, at: str = "controller", setup: Setup = SETUP) -> list[tuple[str, str]]:
    """Identifier and words of the first lines of a frame log."""
    detail: dict[str, Any] = FrameLog(at).take(bench(*faults, setup=setup)).detail
    return [(line[1], line[2]) for line in detail["words"]]
