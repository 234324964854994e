"""Ways of measuring of a whole class, carried over to one bench and played there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.bench.bench import Bench
from labkit.bench.counterparts import Move, moves_on
from labkit.bench.replay import replayed
from labkit.bench.situation import Situation
from labkit.kinds.common.bench_setup import setup_of
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey
from labkit.kinds.diagnosis.plain_bench import PlainBench


def carried_over(
    ask: DiagnosisAsk, key: DiagnosisKey, steps: Sequence[Any], other: DiagnosisAsk
) -> list[Move]:
    """What was measured in one draw until the first repair, as it is on the bench of the other."""
    return moves_on(_bench(_plain(ask, key)), steps, setup_of(other["setup"]))


def to_replay(ask: DiagnosisAsk, key: DiagnosisKey, ways: Sequence[Any]) -> dict[str, Any]:
    """What is asked of whoever plays ways at the bench of a draw."""
    return {"bench": _plain(ask, key), "replay": list(ways)}


def replayed_at(bench: PlainBench, ways: Sequence[Sequence[Move]]) -> dict[str, Any]:
    """What comes of it; takes up to a minute."""
    return replayed(_bench(bench), bench["costs"], ways)


def _plain(ask: DiagnosisAsk, key: DiagnosisKey) -> PlainBench:
    return {
        "setup": ask["setup"],
        "faults": key["faults"],
        "power": ask["power"],
        "costs": ask["costs"],
        "assessed": False,
    }


def _bench(plain: PlainBench) -> Bench:
    setup = setup_of(plain["setup"])
    faults = frozenset(setup.catalogue.fault_from_json(fault) for fault in plain["faults"])
    return Bench(setup, faults, Situation(power=plain["power"]))
