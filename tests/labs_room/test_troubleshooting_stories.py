"""Every sentence of the six cases of `troubleshooting` held against the bench, draw by draw.

The bench with its faults is the same as the trainee's; who answers, which indicator shows what and
what the meter reads is asked of it here, never of the lab's own formulas.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from course_draws import lab

from labkit.bench.actions import NotDoneError, Plug, PowerOff, Unplug
from labkit.bench.bench import Bench
from labkit.bench.faults import Draws
from labkit.bench.recording import Recording, record
from labkit.bench.situation import Situation, Terminal
from labkit.doors.installed import check_for
from labkit.families.devicenet.bench.bus import Change, simulate
from labkit.families.devicenet.bench.catalogue import fault_from_json
from labkit.families.devicenet.bench.conductors import V_MINUS, V_PLUS
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench.trace import Trace
from labkit.fieldbus.devicenet.messages import DuplicateCheck
from labkit.kinds.diagnosis.naming import accepted_places
from labkit.lab.definition import Exercise
from labkit.lab.draw import Scenario, draw

LAB = "troubleshooting"
DRAWS = 100
TRAFFIC_EVERY = 8
"""Every so many draws the bus of the cases is played whose words hang on few drawn values."""
BLOCKS = [range(start, start + 25) for start in range(0, DRAWS, 25)]
CASES = tuple(each.id for each in lab(LAB).exercises if each.kind == "diagnosis")
ON, OFF = Situation(power=True), Situation()
CHECK = check_for("diagnosis")


@cache
def drawn(number: int) -> Scenario:
    return draw(lab(LAB), f"story {number}")


def exercise(name: str) -> Exercise:
    return next(each for each in lab(LAB).exercises if each.id == name)


@cache
def bench(number: int, name: str, situation: Situation = ON) -> Bench:
    prepared = drawn(number).prepare(exercise(name))
    faults = frozenset(fault_from_json(each) for each in prepared.key["faults"])
    return Bench(Setup.from_json(prepared.ask["setup"]), faults, situation)


def planned(bench: Bench) -> Setup:
    assert isinstance(bench.setup, Setup)
    return bench.setup


@cache
def sound(number: int) -> Bench:
    return bench(number, "case-open").with_faults(())


def said(number: int, name: str) -> str:
    return exercise(name).question.render(drawn(number).names)


def worked(number: int, name: str) -> str:
    return exercise(name).working.render(drawn(number).names)


def names(number: int) -> dict[str, Any]:
    return drawn(number).names  # type: ignore[return-value]


def devices(number: int) -> list[str]:
    return list(names(number)["names"])


def exchanges(trace: Trace, address: int | None) -> bool:
    return address is not None and address in trace.entries and trace.report(address).text == "OK"


def silent(here: Bench) -> set[str]:
    """Who exchanges no data with the scanner under the planned address."""
    trace = here.trace
    return {
        name
        for name, device in here.layout.devices.items()
        if name != "scanner" and not exchanges(trace, device.address)
    }


def looks(here: Bench) -> dict[str, str]:
    return {name: here.trace.network_status(name).value for name in here.layout.devices}


def lit(here: Bench) -> set[str]:
    """Whose module indicator is green."""
    return {n for n in here.layout.devices if here.trace.module_status(n).value == "green"}


def ohms(here: Bench, red: str, black: str) -> float:
    value = here.standing(replace(here.situation, power=False)).ohms(
        Terminal.from_text(red), Terminal.from_text(black)
    )
    assert value.value is not None
    return value.value


def volts(here: Bench, at: str) -> float:
    return here.volts(Terminal.of(at, V_PLUS), Terminal.of(at, V_MINUS)).value or 0.0


def without(here: Bench, connector: str) -> Bench:
    return here.standing(replace(here.situation, unplugged=frozenset({connector})))


def checks(here: Bench) -> dict[int, set[int]]:
    """Node address → the serial numbers that ask for it at power-up."""
    found: dict[int, set[int]] = {}
    for each in here.trace.frames:
        if each.through and each.frame.identifier & 0x607 == 0x407:
            check = DuplicateCheck.from_bytes(each.frame.data)
            if not check.response:
                address = each.frame.identifier >> 3 & 0x3F
                found.setdefault(address, set()).add(check.serial)
    return found


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_1_is_out_of_bounds_everywhere_and_is_found_by_pulling_a_plug(numbers: range) -> None:
    for number in numbers:
        here, drawn_case = bench(number, "case-terminator", OFF), names(number)["case_1"]
        for name in ("scanner", *devices(number)):
            assert not 50 <= ohms(here, f"{name}/4", f"{name}/2") <= 70
        at_ends = {
            end: ohms(without(here, end), "scanner/4", "scanner/2")
            for end in ("left end", "right end")
        }
        whole = ohms(here, "scanner/4", "scanner/2")
        if drawn_case in (0, 1):
            missing, other = (
                ("left end", "right end") if drawn_case == 0 else ("right end", "left end")
            )
            assert at_ends[missing] == pytest.approx(whole, abs=0.1)
            assert at_ends[other] > 1000
        elif drawn_case == 2:
            extra = devices(number)[names(number)["place_1"]]
            assert 50 <= ohms(without(here, extra), "scanner/4", "scanner/2") <= 70
        else:
            wrong = names(number)["resistor_1"]
            alone = 1 / (1 / wrong + 1 / names(number)["receivers_ohm"])
            assert at_ends["left end"] == pytest.approx(alone, rel=0.02)


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_2_loses_whom_the_operator_names(numbers: range) -> None:
    for number in numbers:
        here, words = bench(number, "case-open"), said(number, "case-open")
        lost = names(number)["everyone"][names(number)["lost_2"] :]
        assert f"lost the {lost[-1]} at the far right" in words
        assert ("and others on that side" in words) == (len(lost) > 1)
        last, first = names(number)["everyone"][names(number)["lost_2"] - 1], lost[0]
        good = {"CAN_H": 2, "CAN_L": 4}[names(number)["case_2"]]
        assert ohms(here, f"{last}/{good}", f"{first}/{good}") <= 1.1
        assert ohms(here, f"{last}/{6 - good}", f"{first}/{6 - good}") > 200
        if number % TRAFFIC_EVERY == 0:
            assert silent(here) == set(lost)
            assert lit(here) == {*here.layout.devices}
            beyond = {looks(here)[name] for name in lost}
            assert beyond == ({"flashing green"} if len(lost) > 1 else {"off"}), lost


def test_who_is_cut_off_from_a_running_line_flashes_red() -> None:
    for number in range(0, DRAWS, 40):
        well, ill = sound(number), bench(number, "case-open")
        trace = simulate(
            well.devices,
            well.ears,
            planned(well).master_on(well),
            8.0,
            changes=[Change(5.0, ill.devices, ill.ears)],
        )
        lost = set(names(number)["everyone"][names(number)["lost_2"] :])
        flashing = {
            n for n in well.layout.devices if trace.network_status(n).value == "flashing red"
        }
        assert flashing == lost | {"scanner"}
        assert {n for n in lost if trace.module_status(n).value == "green"} == lost
    text = exercise("first-suspect").question
    told = [text.render(drawn(n).names) for n in range(DRAWS) if names(n)["symptom"] == "open-can"]
    assert told
    assert all("network indicators flash red" in words for words in told)


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_3_shows_what_the_fitter_says(numbers: range) -> None:
    for number in numbers:
        here, case, at = (
            bench(number, "case-plug"),
            *(names(number)[name] for name in ("case_3", "device_3")),
        )
        looked = {c for c in here.layout.connectors if here.landed(c) != (1, 2, 3, 4, 5)}
        assert looked == ({at} if case == 0 else set())
        across = {n: ohms(here, f"{n}/4", f"{n}/2") for n in here.layout.devices}
        if case == 1:
            assert min(across, key=lambda n: across[n]) == at
            drop = f"tap {names(number)['everyone'].index(at) + 1}, drop"
            assert 50 <= ohms(without(here, drop), "scanner/4", "scanner/2") <= 70
            assert ohms(without(here, at), "scanner/4", "scanner/2") < 10, "it is in the plug"
        elif case == 0:
            assert all(50 <= ohm <= 70 for ohm in across.values())
        if number % TRAFFIC_EVERY == 0:
            assert silent(here) == (set(devices(number)) if case == 1 else {at})


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_4_has_the_voltages_and_currents_that_are_told(numbers: range) -> None:
    for number in numbers:
        here, case = bench(number, "case-power"), names(number)["case_4"]
        words, working = said(number, "case-power"), worked(number, "case-power")
        assert f"supply shows {here.supply_current('supply').text}." in " ".join(words.split())
        everyone = names(number)["everyone"]
        at = [volts(here, name) for name in everyone]
        jumps = [abs(a - b) for a, b in pairwise(at)]
        if case == 0:
            tap = names(number)["tap_4"]
            shown = here.volts(Terminal(everyone[-1], 5), Terminal(everyone[-1], 1)).text
            assert f"at the {everyone[-1]}, the day shift read no more than {shown}." in words
            assert jumps.index(max(jumps)) == tap - 2
            assert max(jumps) > 5
            assert 11 < at[-1] < 18
        elif case == 1:
            assert lit(here) == set(), "everything is dark"
            assert volts(here, "supply") < 11
            assert (here.supply_current("supply").value or 0) < names(number)["all_current"]
        else:
            device = names(number)["device_4"]
            left = without(here, device).supply_current("supply").value or 0
            assert f"shows {left:.2f} A, which is as the list says" in " ".join(working.split())
            faults = [fault for fault in here.faults if isinstance(fault, Draws)]
            assert [fault.device for fault in faults] == [device]
        if number % TRAFFIC_EVERY == 0 and case != 1:
            assert not silent(here)


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_5_tells_who_is_red_and_whose_machine_moves(numbers: range) -> None:
    for number in numbers:
        here, case = bench(number, "case-settings"), names(number)["case_5"]
        words = said(number, "case-settings")
        working = " ".join(worked(number, "case-settings").split())
        own, device = names(number)["nodes"][names(number)["place_5"]], names(number)["device_5"]
        red = {name for name, look in looks(here).items() if look == "red"}
        mute = silent(here)
        assert ("Nothing runs" in words) == (mute == set(devices(number)))
        if case == 2:
            assert set(looks(here).values()) == {"off"}
            assert not red
            continue
        assert mute == {device}
        assert "Nothing runs" not in words
        if case == 0:
            twin = names(number)["names"][names(number)["twin_5"]]
            assert len(red) == 1
            assert red <= {device, twin}
            assert ("another one moved" in words) == (red == {twin})
            assert f"The red one is the {min(red)}" in working
            address = names(number)["nodes"][names(number)["twin_5"]]
            asked_for = checks(here)
            assert own not in asked_for
            assert len(asked_for[address]) == 2
            assert f"nobody checks for {own}, but two devices check for {address}" in working
            # Whoever came through the checks is taken in the twin's place, and is sent outputs.
            poll = 0x400 | address << 3 | 5
            assert any(f.through and f.frame.identifier == poll for f in here.trace.frames)
            assert planned(here).equipment[device].output_bytes == 1
        elif case == 1:
            assert red == {device}
            assert own not in checks(here)
        else:
            assert looks(here)[device] == "flashing green"
            assert not red
            assert (own in here.trace.entries) == (case == 4)


@pytest.mark.parametrize("numbers", BLOCKS, ids=lambda block: f"from {block.start}")
def test_case_6_drops_out_together_and_never_goes_dark(numbers: range) -> None:
    for number in numbers:
        if number % TRAFFIC_EVERY:
            continue
        here = bench(number, "case-loose")
        lost = set(names(number)["everyone"][names(number)["lost_6"] :])
        fault = min(here.faults, key=repr)
        words = " ".join(said(number, "case-loose").split())
        shut = fault.every_s - fault.open_s  # type: ignore[attr-defined]
        assert f"contact for {shut:g} s, then none for {fault.open_s:g} s" in words  # type: ignore[attr-defined]
        assert "for a moment" not in words
        assert silent(here) == lost
        assert lit(here) == {*here.layout.devices}
        # Seen while the contact has been shut for a while, all run.
        assert not silent(here.standing(replace(ON, clock_s=5.0)))


def test_six_readings_a_minute_apart_always_meet_the_open_wire() -> None:
    here = bench(0, "case-loose", OFF)
    fault = min(here.faults, key=repr)
    for start in range(70):
        clock = [start / 10 + 60 * step for step in range(6)]
        assert any(c % fault.every_s > fault.every_s - fault.open_s for c in clock)  # type: ignore[attr-defined]


@pytest.mark.parametrize("name", CASES)
def test_no_story_names_the_place_more_often_than_another_draws_story(name: str) -> None:
    named: list[set[str]] = []
    right: list[set[str]] = []
    for number in range(DRAWS):
        here = bench(number, name)
        text = f"{exercise(name).title.render(drawn(number).names)} {said(number, name)}"
        places = {*here.layout.devices, *here.layout.connectors}
        named.append({place for place in places if place in text})
        right.append({p for f in here.faults for p in accepted_places(here.layout, f)})
    hits = sum(bool(n & r) for n, r in zip(named, right, strict=True)) / DRAWS
    chance = sum(bool(n & r) for n in named for r in right) / DRAWS**2
    assert hits <= chance + 0.1


def test_plugs_are_pulled_with_the_power_off_only() -> None:
    for name in CASES:
        prepared = drawn(0).prepare(exercise(name))
        setup = Setup.from_json(prepared.ask["setup"])
        live = Bench(setup, frozenset(), ON)
        recorded = Recording(setup, record(live))
        pulled = PowerOff().do(live)
        pulled = Unplug("scanner").do(pulled)
        for action in (Unplug("scanner"), Plug("scanner")):
            with pytest.raises(NotDoneError, match="live"):
                action.do(live)
            with pytest.raises(NotDoneError, match="live"):
                recorded.do(action, ON)
        assert Plug("scanner").do(pulled).situation == OFF


def test_what_tells_to_pull_a_plug_says_power_off_first() -> None:
    pulls = re.compile(r"\bunplug|\bpull (?!ed)", re.IGNORECASE)
    told = 0
    for number in range(DRAWS):
        for each in lab(LAB).exercises:
            for text in (each.question, each.working, *(hint.text for hint in each.hints)):
                words = " ".join(text.render(names(number)).split())
                if pulls.search(words):
                    told += 1
                    before = words[: pulls.search(words).start()].lower()  # type: ignore[union-attr]
                    assert "power off" in before, words
    assert told


def test_the_repair_of_everybody_case_makes_the_bench_whole() -> None:
    for number in range(0, DRAWS, 10):
        for name in CASES:
            prepared = drawn(number).prepare(exercise(name))
            right = CHECK.right_answer(prepared.ask, prepared.key)
            assert CHECK.check(prepared.ask, prepared.key, right).credit == 1
