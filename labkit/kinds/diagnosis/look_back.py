"""What each step of an answer at the virtual bench told: for the page that a trainee gets back.

It takes seconds a bench, so nothing that marks calls it.
"""

from __future__ import annotations

from typing import Any

from labkit.bench.bench import Bench
from labkit.bench.lookback import lines, told
from labkit.bench.session import Session
from labkit.bench.situation import Situation
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey


def looked_back(ask: DiagnosisAsk, key: DiagnosisKey, answer: Any) -> list[str]:
    """The path taken, step by step, and a good one, as lines of text.

    Empty when there is no step to look back at; steps that are not of this bench end the path.
    """
    steps = answer.get("steps") if isinstance(answer, dict) else None
    if not isinstance(steps, list) or not steps:
        return []
    setup = setup_of(ask["setup"])
    faults = frozenset(setup.catalogue.fault_from_json(data) for data in key["faults"])
    start = Bench(setup, faults, Situation(power=ask["power"]))
    session = Session.at(start, ask["costs"])
    for step in steps:
        try:
            session = session.replay([step])
        except PlanError:
            break
    return lines(told(session)) if session.steps else []
