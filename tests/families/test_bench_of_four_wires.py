"""The virtual bench knows conductors by what they do: a cable with four of them, without power."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from four_wires import CATALOGUE, DOWN, FOUR, GROUND, UP, FourWires, Line, four_wires
from test_small_families import every_slip_is_found, prepared

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.conductors import Conductors
from labkit.bench.debrief import usual_measurements
from labkit.bench.faults import Broken, DeviceDead, Fault, Landed
from labkit.bench.front import BenchFront
from labkit.bench.making import trials
from labkit.bench.mending import mend
from labkit.bench.possible import possible_faults
from labkit.bench.recording import Recording, record
from labkit.bench.signals import Signals
from labkit.bench.situation import Situation, Terminal
from labkit.bench.twins import groups_alike
from labkit.doors.installed import page_for
from labkit.fieldbus.errors import PlanError

SETUP = FourWires(Line(("gate", "pump", "lamp")), "gate")
LIVE = Situation(power=True)
FAULTS = possible_faults(SETUP)
OTHERS_NAMES = re.compile(r"CAN_|V\+|V[-−]|drain|supply")
"""What the conductors of another family are called, and what this one has not."""


@pytest.fixture(autouse=True)
def installed_family(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The family, found beside ours."""
    with four_wires(tmp_path, monkeypatch):
        yield


def of(connector: str, *wires: Any) -> list[Terminal]:
    return [Terminal.of(connector, wire) for wire in wires]


def test_the_meter_reads_terminators_and_the_idle_pair() -> None:
    bench = Bench(SETUP)
    # (100 + 2 · 15 m · 0.1 + 8 contacts) Ω on either side, 0.24 Ω of the stub, 10 kΩ of receivers.
    assert bench.ohms(*of("pump", UP, DOWN)).text == "51.5 Ω"
    assert bench.volts(*of("pump", UP, GROUND)).value == 0
    live = bench.standing(LIVE)
    assert live.volts(*of("pump", UP, GROUND)).text == "2.500 V"
    assert live.live is not None
    assert live.live.powered == {"gate", "pump", "lamp"}
    dead = live.with_faults(map(DeviceDead, SETUP.layout.devices))
    assert dead.volts(*of("pump", UP, GROUND)).value == 0


def test_who_sends_is_heard_over_the_pair() -> None:
    live = Bench(SETUP, situation=LIVE).live
    assert live is not None
    assert Signals(live).ears.hears["gate", "lamp"]
    open_line = Bench(SETUP, frozenset({Broken("branch 2, right", UP)}), LIVE).live
    assert open_line is not None
    assert not Signals(open_line).ears.hears.get(("gate", "lamp"))
    # The one that a driver lifts is above the other while it sends.
    volts = live.dominant("gate")
    nodes = [Bench(SETUP).wiring.node(at) for at in of("lamp", UP, DOWN)]
    assert volts.between(*nodes) > 1.5


def test_every_possible_fault_is_told_kept_and_mended_in_its_own_names() -> None:
    told = [fault.words_on(SETUP.layout) for fault in FAULTS]
    assert len(set(told)) == len(FAULTS) > 50
    assert "up and down shorted at pump" in told
    assert "shield and ground are not earthed at gate" in told
    assert "up on terminal 4 and down on terminal 2 at lamp" in told
    assert "the shield touches earth at pump" in told
    for fault in FAULTS:
        assert CATALOGUE.fault_from_json(json.loads(json.dumps(to_json(fault)))) == fault
        steps = mend(SETUP, fault)
        front = BenchFront(SETUP, faults=[fault])
        done = [front.take(step) for step in steps]
        told += [entry["words"] for entry in done]
        assert front.session is not None
        mended = not front.session.bench.faults
        assert mended or isinstance(fault, DeviceDead), fault
    told += [measurement.words_on(SETUP.layout) for measurement in usual_measurements(SETUP)]
    told += [trial.words for trial in trials(SETUP.layout, "lamp")]
    assert [words for words in told if OTHERS_NAMES.search(words)] == []


def test_no_fault_of_power_conductors_is_offered_where_there_are_none() -> None:
    assert {fault.kind for fault in FAULTS} == {
        "terminator missing", "broken", "terminator extra", "earthed", "landed", "touching",
        "not earthed", "device dead",
    }  # fmt: skip
    broken = {fault.wire for fault in FAULTS if isinstance(fault, Broken)}
    assert broken == {GROUND, UP, DOWN}


def test_faults_at_a_connector_show_on_the_meter() -> None:
    at_lamp = [f for f in FAULTS if f.place == "lamp" and not isinstance(f, DeviceDead)]
    assert len(at_lamp) > 7
    groups = groups_alike([Bench(SETUP, frozenset(f)) for f in ([], *([f] for f in at_lamp))])
    assert [0] in groups


@pytest.mark.parametrize("fault", FAULTS[::9], ids=lambda fault: fault.words_on(SETUP.layout))
def test_a_recording_shows_what_the_bench_shows(fault: Fault) -> None:
    bench = Bench(SETUP, frozenset({fault}))
    kept = Recording(SETUP, json.loads(json.dumps(record(bench))))
    for power in (False, True):
        situation = Situation(power=power)
        here = bench.standing(situation)
        for measurement in usual_measurements(SETUP):
            shown, told = measurement.take(here), kept.take(measurement, situation)
            assert (told.text, told.refused) == (shown.text, shown.refused)


def test_the_front_has_four_terminals_and_names_them_in_its_log() -> None:
    front = BenchFront(SETUP, faults=[Broken("branch 2, right", UP)])
    assert front.view()["terminals"][1] == [2, "up", "green", "up"]
    assert len(front.view()["terminals"]) == 4
    entry = front.take({"kind": "ohms", "a": "pump/2", "b": "lamp/2"})
    assert entry["words"] == "resistance from pump, 2 up to lamp, 2 up"
    assert front.take({"kind": "look", "connector": "pump"})["text"] == (
        "1 grey, 2 green, 3 bare, 4 yellow"
    )
    assert front.take({"kind": "lift earth"})["words"] == "lift the earth at gate"
    with pytest.raises(PlanError, match="terminals 1 to 4, not 5"):
        front.take({"kind": "ohms", "a": "pump/5", "b": "pump/1"})
    with pytest.raises(PlanError, match="terminals 1 to 4, not 5"):
        CATALOGUE.measurement_from_json({"kind": "volts", "a": "pump/1", "b": "lamp/5"})
    with pytest.raises(PlanError, match="give four terminals, 1 to 4 or 0"):
        Bench(SETUP, frozenset({Landed("pump", (1, 2, 4))}))
    with pytest.raises(PlanError, match="no conductor 'CAN_H'; the four are ground, up, braid,"):
        CATALOGUE.fault_from_json({"kind": "broken", "connector": "pump", "wire": "CAN_H"})
    with pytest.raises(PlanError, match="give four terminals, 1 to 4 or 0"):
        front.take({"kind": "land", "connector": "pump", "terminals": [1, 2, 3, 4, 5]})
    front.take({"kind": "land", "connector": "pump"})
    assert front.steps[-1]["terminals"] == [1, 2, 3, 4]


def test_a_connector_is_made_up_of_four_conductors() -> None:
    check, made = prepared("four-wires", "kind: wiring\ndevice: lamp\n")
    slips = every_slip_is_found(check, made)
    assert "up-and-down-exchanged" in slips
    assert "power-exchanged" not in slips
    right = check.right_answer(made.ask, made.key)
    assert right == {
        "conductors": {"bare": 3, "green": 2, "grey": 1, "yellow": 4},
        "terminators": ["left end", "right end"],
        "shield": ["branch 1"],
    }
    crossed = {**right, "conductors": {**right["conductors"], "green": 4, "yellow": 2}}
    told = check.check(made.ask, made.key, crossed).message
    assert told.startswith("up and down are exchanged: green and yellow.")
    page: Any = page_for("wiring")(made.ask, made.key)
    assert page.view()["colours"] == ["bare", "green", "grey", "yellow"]
    rows = page.take({"kind": "test", "answer": right}, right)["rows"]
    assert all(row["fits"] for row in rows)
    on_paper: Any = check
    paper = on_paper.paper(made.ask) + on_paper.paper_right(made.ask, made.key)
    assert "Four conductors, and a connector with four terminals" in paper
    assert not OTHERS_NAMES.search(paper)


def test_a_fault_is_found_and_mended_on_a_bench_of_four() -> None:
    cases = "cases: [[{kind: touching, connector: pump, a: up, b: braid}]]\n"
    check, made = prepared("four-wires", f"kind: diagnosis\nscanner: gate\n{cases}")
    right = check.right_answer(made.ask, made.key)
    assert right["verdict"] == {"fault": "touching", "wires": ["braid", "up"], "place": "pump"}
    verdict = check.check(made.ask, made.key, right)
    assert verdict.message.startswith("The fault is found: up and braid shorted at pump.")
    assert verdict.right
    other = {**right, "verdict": {**right["verdict"], "wires": ["CAN_H"]}}
    assert not check.check(made.ask, made.key, other).right
    page: Any = page_for("diagnosis")(made.ask, made.key)
    assert [label for _, label, *_ in page.view()["terminals"]] == ["ground", "up", "braid", "down"]
    on_paper: Any = check
    marking = on_paper.paper_for_marking(made.ask, made.key, 4)
    assert "1 ground, 2 up, 3 braid, 4 down" in marking
    assert not OTHERS_NAMES.search(marking)


def test_conductors_come_in_the_order_of_their_terminals() -> None:
    assert FOUR.in_order == (1, 2, 3, 4)
    with pytest.raises(PlanError, match="in the order of their terminals"):
        Conductors((UP, GROUND), pair=(UP, DOWN), common=GROUND, shield=GROUND)
