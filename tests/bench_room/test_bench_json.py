"""Steps, faults and answers from JSON: read back as written, and never a traceback."""

import json
from dataclasses import fields
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import Broken, TerminatorMissing
from labkit.bench.front import BenchFront
from labkit.bench.possible import possible_faults
from labkit.bench.recording import record
from labkit.bench.situation import Situation
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.catalogue import CATALOGUE
from labkit.families.devicenet.bench.conductors import CAN_H
from labkit.families.devicenet.bench.faults import RateSet
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap
from labkit.fieldbus.errors import PlanError

PLAN = Network(
    125,
    (Segment("thick", 30.0),),
    (
        Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
        Tap(25.0, Drop(2.0, (Device("valves", 0.4, 5),))),
    ),
    (Supply(12.0),),
)
SETUP = Setup(PLAN, "panel")
FAULTS = (Broken("tap 2, drop", CAN_H), RateSet("valves", 250))
RECORDING = record(Bench(SETUP, frozenset(FAULTS)))

places = st.sampled_from(
    [*SETUP.layout.connectors, *SETUP.layout.pieces, "left end", "panel", "supply", "earth", "x"]
)
texts = st.one_of(
    places,
    places.map(lambda p: f"{p}/4"),
    st.sampled_from(["CAN_H", "V-", "thin", "earth", "tap 1, left/9", "panel/2s"]),
)
plain = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 600),
    st.sampled_from([0.5, -1.0, 1e300, float("inf"), float("nan"), 10**400]),
    texts,
)
values = st.recursive(
    plain,
    lambda inner: st.lists(inner, max_size=5) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=8,
)
names = st.sampled_from(
    sorted(
        {
            name
            for kinds in (CATALOGUE.faults, CATALOGUE.actions, CATALOGUE.measurements)
            for kind in kinds.values()
            for name in kind.__dataclass_fields__
        }
    )
)
kinds = st.sampled_from([*CATALOGUE.actions, *CATALOGUE.measurements, *CATALOGUE.faults])
anything = st.one_of(
    values,
    st.builds(lambda kind, rest: {**rest, "kind": kind}, kinds, st.dictionaries(names, values)),
)


@st.composite
def fitting(draw: st.DrawFn) -> dict[str, Any]:
    """A step with its very fields, whatever is in them."""
    kind = draw(st.sampled_from([*CATALOGUE.actions, *CATALOGUE.measurements]))
    made: Any = {**CATALOGUE.actions, **CATALOGUE.measurements}[kind]
    return {"kind": kind} | {field.name: draw(values) for field in fields(made)}


steps = st.one_of(anything, fitting())
NASTY = [
    {"kind": ["ohms"]},
    {"kind": "land", "connector": "panel", "terminals": 5},
    {"kind": "move supply", "position": "far"},
    {"kind": "remove terminator", "place": [{}]},
    {"kind": "remove terminator", "place": [[]]},
    {"kind": "set switches", "device": "panel", "address": "3", "rate": 125},
]


@pytest.mark.parametrize("step", NASTY)
@pytest.mark.parametrize("power", [True, False])
@pytest.mark.parametrize("recorded", [True, False])
def test_a_step_that_makes_no_sense_gets_a_sentence(
    step: object, power: bool, recorded: bool
) -> None:
    given_ = {"recording": RECORDING} if recorded else {"faults": FAULTS}
    with pytest.raises(PlanError, match=r"[a-z]\."):
        BenchFront(SETUP, start=Situation(power=power), **given_).take(step)


@settings(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(steps, max_size=3), st.booleans(), st.booleans())
def test_no_step_raises_anything_but_a_sentence(
    taken: list[Any], power: bool, recorded: bool
) -> None:
    given_ = {"recording": RECORDING} if recorded else {"faults": FAULTS}
    front = BenchFront(SETUP, start=Situation(power=power), **given_)
    for step in taken:
        try:
            front.take(step)
        except PlanError:
            continue
        json.dumps(front.state())
    again = BenchFront(SETUP, start=Situation(power=power), **given_)
    again.resume(front.steps)
    assert again.state() == front.state()


@pytest.mark.parametrize("recorded", [True, False])
def test_the_log_says_how_the_bench_stood_at_each_reading(recorded: bool) -> None:
    given_ = {"recording": RECORDING} if recorded else {"faults": FAULTS}
    front = BenchFront(SETUP, start=Situation(power=True), **given_)
    plug = next(iter(SETUP.layout.device_connectors.values())).id
    for kind, more in (
        ("power off", {}),
        ("unplug", {"connector": plug}),
        ("plug", {"connector": plug}),
        ("lift earth", {}),
        ("ohms", {"a": f"{plug}/4", "b": f"{plug}/2"}),
    ):
        front.take({"kind": kind, **more})
    assert [entry["then"] for entry in front.state()["log"]] == [
        "power on",
        "power off",
        f"power off; {plug} unplugged",
        "power off",
        "power off; earth lifted",
    ]


ASK = {"setup": SETUP.to_json(), "power": False, "budget": 60, "costs": {}, "repairs": True}
KEY = {
    "faults": [to_json(f) for f in FAULTS],
    "shares": {"fault": 0.4, "place": 0.4, "repair": 0.2},
}
verdicts = st.fixed_dictionaries(
    {},
    optional={
        "fault": st.one_of(st.sampled_from(list(CATALOGUE.faults)), values),
        "place": st.one_of(places, values),
        "wires": st.one_of(st.lists(st.sampled_from(["CAN_H", "V+"])), values),
    },
)


@settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@example({"verdict": {"fault": ["broken"], "place": "panel"}})
@example({"verdict": {"fault": "babbling", "place": "panel"}, "steps": [{"kind": {}}]})
@given(
    st.one_of(
        values,
        st.builds(
            lambda verdict, taken: {"verdict": verdict, "steps": taken},
            st.one_of(verdicts, values),
            st.one_of(st.lists(steps, max_size=4), values),
        ),
    )
)
def test_no_answer_makes_the_check_raise(answer: object) -> None:
    check = check_for("diagnosis")
    verdict = check.check(ASK, KEY, answer)
    assert 0 <= verdict.credit <= 1
    assert isinstance(check.shown(ASK, answer), str)


def test_faults_actions_and_measurements_come_back_as_they_were_written() -> None:
    faults = possible_faults(SETUP)
    for fault in faults:
        data = json.loads(json.dumps(to_json(fault)))
        assert CATALOGUE.fault_from_json(data) == fault
    wanted = {
        "kind": "land", "connector": "panel", "terminals": [1, 4, 3, 2, 5]
    }  # fmt: skip
    assert to_json(CATALOGUE.action_from_json(wanted)) == wanted
    probe = {"kind": "ohms", "a": "panel/4", "b": "tap 1, drop/2s"}
    assert to_json(CATALOGUE.measurement_from_json(probe)) == probe
    assert Setup.from_json(json.loads(json.dumps(SETUP.to_json()))) == SETUP


def test_what_a_trainee_is_given_does_not_depend_on_the_fault() -> None:
    for fault in (FAULTS[0], TerminatorMissing("left end")):
        front = BenchFront(SETUP, faults=[fault])
        assert front.view() == BenchFront(SETUP, faults=[]).view()
        assert front.state() == BenchFront(SETUP, faults=[]).state()
