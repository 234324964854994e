"""Looking back where several faults were in the bench: what each reading showed of them.

The benches are asked again by hand: a reading shows a fault if without that fault alone the
instrument shows something else.
"""

from __future__ import annotations

from typing import Any

import pytest

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.conductors import Wire
from labkit.bench.faults import Broken, Fault, SupplyDead, TerminatorExtra, TerminatorMissing
from labkit.bench.lookback import lines, told
from labkit.bench.measurements import Look, Measurement, Ohms
from labkit.bench.mending import mend
from labkit.bench.session import Session
from labkit.bench.several import showings
from labkit.bench.situation import Situation, Terminal
from labkit.doors.installed import check_for, page_for
from labkit.families.devicenet.bench.conductors import CAN_H, CAN_L, V_PLUS
from labkit.families.devicenet.bench.measurements import Indicators, ScannerReport
from labkit.families.devicenet.bench.setup import Setup
from labkit.fieldbus.devicenet.network import Device, Drop, Network, Segment, Supply, Tap

PLAN = Network(
    125,
    (Segment("thick", 30.0),),
    (
        Tap(5.0, Drop(1.0, (Device("panel", 0.2, 0),))),
        Tap(15.0, Drop(1.0, (Device("lift", 0.2, 3),))),
        Tap(25.0, Drop(2.0, (Device("valves", 0.4, 5),))),
    ),
    (Supply(12.0),),
)
SETUP = Setup(PLAN, "panel")
END, PLUG = TerminatorMissing("left end"), Broken("valves", V_PLUS)


def ohms(at: str, a: Wire, b: Wire) -> Ohms:
    return Ohms(Terminal.of(at, a), Terminal.of(at, b))


PAIR = ohms("panel", CAN_H, CAN_L)


def session(*faults: Fault, power: bool = False) -> Session:
    return Session.at(Bench(SETUP, frozenset(faults), Situation(power=power)))


def test_a_reading_shows_the_faults_without_which_it_would_be_another() -> None:
    done = session(END, PLUG).take(PAIR).take(ohms("lift", V_PLUS, CAN_L))
    first, second = showings(done)
    assert first.shows == (END,)
    assert second.shows == ()
    assert not second.hidden
    on = session(END, PLUG, power=True).take(Indicators())
    [seen] = showings(on)
    assert PLUG in seen.shows


@pytest.mark.parametrize("what", [PAIR, Indicators(), ScannerReport()])
@pytest.mark.parametrize("power", [False, True])
def test_it_is_what_the_bench_shows_without_each(what: Measurement, power: bool) -> None:
    faults = frozenset({END, PLUG, Broken("lift", CAN_H)})
    [seen] = showings(session(*faults, power=power).take(what))
    if seen.step.reading is None or seen.step.reading.refused:
        assert seen.shows == ()
        return
    for fault in faults:
        other = Bench(SETUP, faults - {fault}, Situation(power=power))
        assert (fault in seen.shows) != what.take(other).agrees(seen.step.reading)


def test_two_faults_that_hide_each_other_are_told_as_such() -> None:
    """Without power from the supply the open plug changes nothing, and the other way round."""
    done = session(SupplyDead("supply"), PLUG, power=True)
    [seen] = showings(done.take(ScannerReport()).take(Indicators()))[1:]
    assert seen.shows == (SupplyDead("supply"),)
    twice = session(Broken("valves", V_PLUS), Broken("tap 3, drop", V_PLUS), power=True)
    [hidden] = showings(twice.take(Indicators()))
    assert hidden.shows == ()
    assert hidden.hidden
    assert "one fault hides the other" in " ".join(
        told(twice.take(Indicators()))["steps"][0]["told"]
    )


def test_a_repair_and_what_comes_after_it_is_told_too() -> None:
    done = session(END, PLUG).take(PAIR)
    for step in mend(SETUP, END):
        done = done.replay([step])
    done = done.take(PAIR)
    back = told(done)
    assert not back["single"]
    assert back["about"].startswith("2 faults were in the bench at once, here called A and B.")
    assert len(back["steps"]) == len(done.steps)
    sentences = [" ".join(step["told"]) for step in back["steps"]]
    letter = "AB"[sorted((END, PLUG), key=lambda f: f.words_on(SETUP.layout)).index(END)]
    assert f"This showed {letter}." in sentences[0]
    assert f"This mended {letter}." in sentences[1:-1][-1]
    assert "showed" not in sentences[-1]
    for words in (END.words_on(SETUP.layout), PLUG.words_on(SETUP.layout)):
        assert words not in str(back["steps"]) + back["about"]
    assert f"{letter}: {END.words_on(SETUP.layout)}" in back["names"]
    assert lines(back)[:2] == [back["about"], back["names"]]
    assert lines(back)[2].endswith(sentences[0])


def test_a_fault_that_was_made_has_its_letter_and_its_words_too() -> None:
    done = session(END, PLUG).replay([{"kind": "fit terminator", "place": "lift"}])
    back = told(done)
    assert back["steps"][-1]["told"] == ["This made a new fault, C."]
    assert "; C: " in back["names"]
    assert "lift" in back["names"].split("; C: ")[1]


def test_when_no_single_fault_is_left_it_says_that_there_are_several() -> None:
    done = session(END, PLUG, power=True)
    done = done.take(Indicators()).replay([{"kind": "power off"}]).take(PAIR)
    plus = ohms("valves", V_PLUS, CAN_L)
    done = done.take(plus).take(Ohms(Terminal.of("valves", V_PLUS), Terminal.of("lift", V_PLUS)))
    text = " ".join(" ".join(step["told"]) for step in told(done)["steps"])
    assert "No single fault explains what was read so far: there are several." in text


def test_of_one_fault_all_is_told_as_before() -> None:
    back = told(session(END).take(PAIR))
    assert back["single"]
    assert {"start", "steps", "later", "path"} <= back.keys()
    assert back["steps"][0]["after"] < back["steps"][0]["before"]


def test_pages_after_a_class_tell_it_of_an_answer() -> None:
    done = session(END, PLUG).take(PAIR)
    ask = {"setup": SETUP.to_json(), "power": False, "costs": {}}
    key = {"faults": [to_json(END), to_json(PLUG)]}
    check: Any = check_for("diagnosis")
    said = check.looked_back(ask, key, {"steps": done.to_json()})
    assert said == lines(told(done))
    assert "This showed" in said[2]


def test_a_repair_that_makes_a_fault_is_told_and_the_fault_is_seen_from_then_on() -> None:
    done = session(END, PLUG).replay([{"kind": "fit terminator", "place": "valves"}]).take(PAIR)
    made, after = showings(done)
    assert made.mended == ()
    assert made.made == (TerminatorExtra("valves"),)
    assert set(after.shows) == {END, TerminatorExtra("valves")}
    assert told(done)["steps"][0]["told"] == ["This made a new fault, C."]


def test_what_the_letters_stand_for_is_told_to_who_has_found_them_all_only() -> None:
    """Who has used all their minutes may look back and search on."""
    shares = {"fault": 0.4, "place": 0.4, "repair": 0.2}
    ask: Any = {"setup": SETUP.to_json(), "power": False, "costs": {"look": 5}, "budget": 5}
    ask |= {"repairs": True, "names": 2}
    key: Any = {"faults": [to_json(END), to_json(PLUG)], "shares": shares}
    right: Any = check_for("diagnosis").right_answer(ask, key)
    looked = session().take(Look("lift")).to_json()
    half = {"verdict": right["verdict"], "steps": looked}
    found = f"A: {PLUG.words_on(SETUP.layout)}; B: {END.words_on(SETUP.layout)}."

    def back(answer: Any) -> Any:
        page = page_for("diagnosis")(ask, key, answer["steps"])
        return page.take({"kind": "look back"}, answer)["back"]

    assert back({**right, "steps": [*looked, *right["steps"]]})["names"] == found
    assert "names" not in back(half)
