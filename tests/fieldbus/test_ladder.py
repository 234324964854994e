"""The ladder engine against boolean expressions that Python itself works out."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ladder import (
    Coil,
    CoilKind,
    Contact,
    Program,
    Rung,
    conducts,
    power_flow,
    run,
    scan,
    settle,
)
from labkit.fieldbus.ladder_text import rung_from_text, text_of

NAMES = ["a", "b", "c", "d"]
contacts = st.builds(Contact, st.sampled_from(NAMES), st.booleans())
branches = st.lists(contacts, min_size=1, max_size=3).map(tuple)
groups = st.lists(branches, min_size=1, max_size=3).map(tuple)
coils = st.builds(Coil, st.sampled_from(NAMES), st.sampled_from(CoilKind))
rungs = st.builds(Rung, st.lists(groups, min_size=1, max_size=3).map(tuple), coils)
images = st.fixed_dictionaries({name: st.booleans() for name in NAMES})


@given(rungs, images)
def test_power_reaches_the_coil_exactly_when_the_expression_is_true(
    rung: Rung, image: dict[str, bool]
) -> None:
    expression = text_of(rung).split(":=")[1].lower()
    assert conducts(rung, image) == eval(expression, {}, dict(image))


@given(rungs)
def test_a_rung_is_read_as_it_is_written(rung: Rung) -> None:
    again = rung_from_text(text_of(rung))
    assert text_of(again) == text_of(rung)
    assert again.coil == rung.coil
    for values in product([False, True], repeat=4):
        image = dict(zip(NAMES, values, strict=True))
        assert conducts(again, image) == conducts(rung, image)


@given(st.lists(rungs, max_size=4).map(tuple), images)
def test_the_power_that_is_drawn_is_the_power_that_acts(
    many: tuple[Rung, ...], image: dict[str, bool]
) -> None:
    program = Program(many)
    during = dict(image)
    for rung, flow in zip(many, power_flow(program, image), strict=True):
        assert flow.coil == conducts(rung, during)
        for group, drawn in zip(rung.groups, flow.after, strict=True):
            for branch, along in zip(group, drawn, strict=True):
                assert len(along) == len(branch)
                # Power that is gone does not come back within a branch.
                assert list(along) == sorted(along, reverse=True)
        during = scan(Program((rung,)), during)
    assert during == scan(program, image)


START_STOP = Program((rung_from_text("motor := (start OR motor) AND NOT stop"),))


def test_start_and_stop_with_seal_in_step_by_step() -> None:
    steps = [
        ({"start": False, "stop": False}, False),
        ({"start": True, "stop": False}, True),
        ({"start": False, "stop": False}, True),
        ({"start": False, "stop": True}, False),
        ({"start": False, "stop": False}, False),
        ({"start": True, "stop": True}, False),
    ]
    images = run(START_STOP, [inputs for inputs, _ in steps])
    assert [image["motor"] for image in images] == [motor for _, motor in steps]


def test_set_and_reset_stay_and_the_last_rung_wins() -> None:
    latch = Program(tuple(map(rung_from_text, ["set m := s", "reset m := r", "lamp := m"])))
    steps = [{"s": True}, {"s": False}, {"s": True, "r": True}, {"s": False, "r": False}]
    assert [image["lamp"] for image in run(latch, steps)] == [True, True, False, False]
    twice = Program(tuple(map(rung_from_text, ["lamp := s", "lamp := r"])))
    assert scan(twice, {"s": True, "r": False})["lamp"] is False


def test_a_rung_above_sees_what_a_rung_below_writes_only_in_the_next_scan() -> None:
    upwards = Program(tuple(map(rung_from_text, ["lamp := m", "m := s"])))
    downwards = Program(upwards.rungs[::-1])
    assert scan(downwards, {"s": True})["lamp"] is True
    first = scan(upwards, {"s": True})
    assert first["lamp"] is False
    assert scan(upwards, first)["lamp"] is True
    assert settle(upwards, {}, {"s": True})["lamp"] is True


def test_inputs_are_read_anew_before_each_scan() -> None:
    writes_its_input = Program((rung_from_text("s := NOT s"),))
    # Were the input not read again, three scans would leave it the other way round.
    assert settle(writes_its_input, {}, {"s": False})["s"] is True
    assert scan(writes_its_input, {"s": False})["s"] is True


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("start AND stop", "no coil"),
        ("motor :=", "operand is missing"),
        ("motor := start AND", "operand is missing"),
        ("motor := start OR OR stop", "operand is missing"),
        ("motor := (start OR motor", "not closed"),
        ("motor := start stop", "'stop' is too much"),
        ("motor := start)", "is too much"),
        ("motor := start & stop", "cannot stand"),
        ("motor := (a OR (b AND c)) AND d", "one level"),
        ("motor := a OR (b OR c)", "one level"),
        ("motor := " + "a AND " * 100 + "a", "too long"),
    ],
)
def test_what_is_no_rung_is_told(text: str, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        rung_from_text(text)


def test_addresses_and_small_letters_are_read_too() -> None:
    rung = rung_from_text("SET %QX0.1 := not %IX4.2 and (%IX4.3 or %QX0.1);")
    assert rung.coil == Coil("%QX0.1", CoilKind.SET)
    assert rung.groups == (
        ((Contact("%IX4.2", closed=True),),),
        ((Contact("%IX4.3"),), (Contact("%QX0.1"),)),
    )
    with pytest.raises(PlanError, match="empty"):
        Rung(((),), Coil("m"))
    with pytest.raises(PlanError, match="too many"):
        Program((rung,) * 51)
