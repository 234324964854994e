"""Whether faults can be together on a bench."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.bench.faults.base import AtConnector, Fault
from labkit.bench.faults.connectors import Landed, TerminatorExtra
from labkit.bench.layout import Layout
from labkit.fieldbus.errors import PlanError


def checked(faults: Iterable[Fault], layout: Layout) -> frozenset[Fault]:
    """The faults, held against the bench and against each other; raises `PlanError`."""
    found = frozenset(faults)
    taken: dict[tuple[type[Fault], str], Fault] = {}
    for fault in found:
        if not isinstance(fault, Fault):
            raise PlanError(f"{fault!r} is no fault; use the classes of labkit.bench.faults.")
        fault.check(layout)
        if isinstance(fault, AtConnector) and not isinstance(fault, Landed | TerminatorExtra):
            continue
        other = taken.setdefault((type(fault), fault.place), fault)
        if other is not fault:
            raise PlanError(
                f"Both cannot be: {other.words_on(layout)}, and {fault.words_on(layout)}."
            )
    return found
