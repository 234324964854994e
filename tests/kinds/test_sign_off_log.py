"""A log in a sign-off: read in pieces, kept small, held against the plan of this draw."""

from __future__ import annotations

import json
from base64 import b64encode
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rig_logs import at_address, devicenet_log, without

from labkit.doors.check import HeldAgainstPlan
from labkit.doors.installed import check_for, page_for
from labkit.exchange.journal import MAX_ANSWER
from labkit.fieldbus.devicenet.heard import PlannedBus
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError

FILE = Path(__file__).parents[1] / "lab" / "labs" / "log-of-the-rig" / "lab.md"
LAB = read_lab(FILE)
PREPARED = draw(LAB, "rig").prepare(LAB.exercises[0])
ASK, KEY = PREPARED.ask, PREPARED.key
PLAN = PlannedBus.from_json(ASK["log"]["planned"])
CHECK: Any = check_for("sign_off")


def sent(data: bytes, page: Any, *, size: int = 5_000, name: str = "rig.log") -> dict[str, Any]:
    """What comes of the last piece of a file."""
    pieces = [data[at : at + size] for at in range(0, len(data), size)] or [b""]
    reply: dict[str, Any] = {}
    for number, piece in enumerate(pieces):
        message = {"file": "one", "piece": number, "last": number == len(pieces) - 1, "name": name}
        reply = page.take_file({**message, "bytes": b64encode(piece).decode()})
        if "problem" in reply:
            break
    return reply


def page() -> Any:
    return page_for("sign_off")(ASK, None)


def with_log(text: str) -> dict[str, Any]:
    return {**CHECK.right_answer(ASK, KEY), "log": sent(text.encode(), page())["log"]}


def test_the_plan_is_the_one_of_the_draw() -> None:
    assert [(n.name, n.input_bytes, n.output_bytes) for n in PLAN.nodes] == [
        ("scanner", 0, 0),
        ("rinser valves", 1, 1),
        ("filler scale", 12, 2),
        ("capper drive", 4, 4),
    ]
    other = draw(LAB, "another").prepare(LAB.exercises[0]).ask["log"]["planned"]
    assert other != ASK["log"]["planned"]


def test_a_log_of_the_rig_as_planned_agrees_line_by_line() -> None:
    reply = sent(devicenet_log(PLAN).encode(), page())
    told = reply["told"]
    assert told["name"] == "rig.log"
    assert told["summary"] == "10 lines agree, 0 differ, 2 cannot be told from this log"
    assert told == page().take_file({"log": reply["log"]})["told"]
    assert isinstance(check_for("sign_off"), HeldAgainstPlan)
    answer = with_log(devicenet_log(PLAN))
    assert CHECK.against_plan(ASK, answer) == told
    assert "log rig.log against the plan: 10 lines agree" in CHECK.shown(ASK, answer)
    assert len(json.dumps(answer)) < MAX_ANSWER / 10
    assert CHECK.check(ASK, KEY, answer).awaits


def test_what_differs_is_said_in_full_where_an_answer_is_a_line() -> None:
    answer = with_log(devicenet_log(PLAN, without("capper drive")))
    assert "capper drive, I/O: planned poll, 4 output and 4 input bytes, heard" in CHECK.shown(
        ASK, answer
    )
    assert CHECK.not_ready(ASK, answer) == []


def test_the_instructor_decides_whatever_the_log_says() -> None:
    answer = with_log(devicenet_log(PLAN, at_address("capper drive", PLAN.nodes[1].address)))
    verdict = CHECK.check(ASK, KEY, answer)
    assert verdict.awaits
    assert verdict.credit == 0


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"\0" * 50_000, "binary"), ("ä".encode("utf-16") * 9, "UTF-16"), (b"", "empty"),
     (b"no log\n" * 4, "identifier#data")],
)  # fmt: skip
def test_rubbish_is_refused_in_a_sentence_and_the_next_log_is_read(data: bytes, words: str) -> None:
    same = page()
    assert words in sent(data, same)["problem"]
    assert sent(devicenet_log(PLAN).encode(), same)["told"]["problem"] == ""


@pytest.mark.parametrize(
    "message",
    [
        {},
        {"file": "one", "piece": 3, "bytes": ""},
        {"file": "one", "piece": 0, "bytes": "no base64!"},
        {"file": "one", "piece": 0, "bytes": 7},
        {"file": "one", "piece": 0, "bytes": "A" * 400_000},
        {"file": ["one"], "piece": 0, "bytes": ""},
    ],
)
def test_what_a_page_cannot_mean_is_told_to_begin_again(message: dict[str, Any]) -> None:
    assert page().take_file(message) == {
        "problem": "The log was not read to its end. Drop it again."
    }


@pytest.mark.parametrize("then", [0, 2, 1])
def test_a_piece_that_is_missing_or_comes_twice_is_told(then: int) -> None:
    """Piece 0 again begins anew, and only the next one goes on."""
    same = page()
    said = {"file": "a", "bytes": b64encode(b"(1.0) can0 001#00\n").decode()}
    assert same.take_file({**said, "piece": 0}) == {"next": 1}
    reply = same.take_file({**said, "piece": then})
    assert (reply == {"next": then + 1}) if then in (0, 1) else ("problem" in reply)


def test_pieces_of_two_files_are_not_mixed() -> None:
    same = page()
    first = {"file": "a", "piece": 0, "bytes": b64encode(b"(1.0) can0 001#00\n").decode()}
    assert same.take_file(first) == {"next": 1}
    assert "problem" in same.take_file({**first, "file": "b", "piece": 1})
    assert "problem" in same.take_file({**first, "piece": 2})


def test_a_sign_off_without_a_log_takes_none() -> None:
    plain = {"items": ASK["items"], "caution": ""}
    without_log = page_for("sign_off")(plain, None)
    assert "log" not in without_log.view()
    assert without_log.take_file({"file": "a", "piece": 0, "bytes": ""}) == {  # type: ignore[attr-defined]
        "problem": "No log is asked for here."
    }
    assert CHECK.against_plan(plain, with_log(devicenet_log(PLAN))) is None


def test_the_page_needs_no_plan() -> None:
    assert set(page().shown_ask()) == {"items", "caution"}


scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9)
anything = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["name", "heard", "remarks", "nodes", "frames"]), inner, max_size=4
        )
    ),
    max_leaves=9,
)


@settings(deadline=None)
@given(anything)
def test_any_json_for_a_log_gets_a_verdict(log: Any) -> None:
    answer = {**CHECK.right_answer(ASK, KEY), "log": log}
    assert CHECK.check(ASK, KEY, answer).awaits
    assert isinstance(CHECK.shown(ASK, answer), str)
    told = CHECK.against_plan(ASK, answer)
    assert told is None or told["problem"] or told["lines"]
    assert "told" in page().take_file({"log": log}) or not isinstance(log, dict)


def prepared(text: str) -> None:
    lab = read_lab_text(text, "lab.md")
    draw(lab, "rig").prepare(lab.exercises[0])


TEXT = FILE.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("scanner: scanner", "scanner: scaner", "There is no device 'scaner' in the plan"),
        ("device: filler scale", "device: filler", "There is no device 'filler' in the plan"),
        ('input_bytes: "12"', 'input_bytes: "0.5"', "gives 0.5 bytes"),
        ('input_bytes: "12"', "connection: pole", "no connection 'pole'"),
        ("id: heard", "id: log", "an item is called 'log'"),
        ("  scanner: scanner", "  scanner: scanner\n  plan: gap", "does not give a DeviceNet"),
    ],
)
def test_an_author_is_told_what_does_not_fit(old: str, new: str, words: str) -> None:
    changed = TEXT.replace(old, new, 1)
    assert changed != TEXT
    with pytest.raises(DefinitionError) as refused:
        prepared(changed)
    assert words in str(refused.value)
