"""Tables, switches and frames: right is right, slips are told, any JSON gets a verdict."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_lab import DRAWS, EXERCISES, json_values, prepared, scenarios

from labkit.doors.verdict import Verdict
from labkit.workbook import WorkbookFiles, task_data

ASK_KEYS = {"table": {"columns", "rows"}, "switches": {"device", "task", "setting"}}
FRAME_KEYS = {"read": {"identifier", "data", "line", "fields"}, "write": {"fields"}}
CELL_KEYS = {"name", "label", "write", "unit", "digits", "words"}


# Every mistake that a kind is to know, told apart from the right answer and from the others.
DECLARED = {
    "power-table": {"all-off", "divided", "half", "not-class-2", "one-off"},
    "set-dip": {"not-set", "rate-first", "on-off-inverted", "address-reversed", "rate-swapped"}
    | {"address-inverted", "address-off-by-one", "no-such-rate", "rate-off-by-one"},
    "set-rotary": {"not-set", "decades-swapped", "address-off-by-one"}
    | {"no-such-rate", "rate-off-by-one"},
    "read-dip": {"address-reversed", "address-inverted", "weights-doubled"}
    | {"rate-read-as-address", "address-off-by-one"},
    "read-rotary": {"decades-swapped", "address-off-by-one"},
    "read-rate": {"rate-swapped", "rate-off-by-one"},
    "any-frame": {"first-digit", "bits-exchanged", "other-role", "other-end", "hex-as-decimal"},
    "request-and-refusal": {"ends-exchanged", "header-forgotten", "response-bit"}
    | {"bits-exchanged", "request-for-response", "additional-code", "hex-as-decimal"},
    "inputs": {"byte-order", "sign-forgotten", "hex-as-decimal", "bits-exchanged"},
    "who-asks": {"byte-order", "request-for-response", "bits-exchanged", "hex-as-decimal"},
    "write-request": {"bits-exchanged", "wrong-group", "decimal-for-hex", "header-forgotten"}
    | {"response-bit", "header-own-address"},
    "write-inputs": {"bits-exchanged", "decimal-for-hex", "byte-order"},
}


@pytest.mark.parametrize("name", EXERCISES)
def test_right_is_right_and_each_slip_is_told_in_two_hundred_scenarios(name: str) -> None:
    seen: Counter[str] = Counter()
    for number in range(DRAWS):
        check, ask, key = prepared(name, number)
        right = check.right_answer(ask, key)
        assert json.loads(json.dumps(right)) == right
        assert check.check(ask, key, right).right, (number, right)
        assert check.shown(ask, right)
        for slip, answer in check.slip_answers(ask, key).items():
            verdict = check.check(ask, key, answer)
            assert (verdict.slip, verdict.right, verdict.readable) == (slip, False, True)
            assert answer != right
            assert len(verdict.message) > 40
            seen[slip] += 1
    assert set(seen) == DECLARED[name]
    assert min(seen.values()) > DRAWS // 20, "a slip that hardly ever fits is no use"


@settings(deadline=None, max_examples=400, suppress_health_check=[HealthCheck.too_slow])
@given(name=st.sampled_from(sorted(EXERCISES)), answer=json_values)
def test_any_json_gets_a_verdict_that_keeps_its_word(name: str, answer: Any) -> None:
    check, ask, key = prepared(name)
    verdict = check.check(ask, key, answer)
    assert isinstance(verdict, Verdict)
    assert 0 <= verdict.credit <= 1
    assert verdict.message
    assert verdict.right == (verdict.credit == 1)
    assert verdict.readable == (check.unreadable(ask, answer) == "")
    assert verdict.readable or (verdict.credit == 0 and not verdict.slip)
    assert isinstance(check.shown(ask, answer), str)
    if hasattr(check, "states"):
        states = check.states(ask, key, answer)
        share = sum(state == "right" for state in states.values()) / len(states)
        assert not verdict.readable or verdict.credit == pytest.approx(share)


def _strings(data: Any) -> Iterator[str]:
    if isinstance(data, dict):
        for name, value in data.items():
            yield str(name)
            yield from _strings(value)
    elif isinstance(data, list):
        for value in data:
            yield from _strings(value)
    else:
        yield str(data)


def _task(number: int, *, practice: bool) -> tuple[str, list[dict[str, Any]]]:
    task = task_data(
        scenarios()[number],
        workbook="0123456789abcdef",
        class_id="autumn",
        class_title="Autumn class",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=practice,
        deadline=None,
        signing_key="0" * 64,
    )
    data = json.loads(WorkbookFiles.of(scenarios()[number], task).task)
    return "\n".join(_strings(data)), data["exercises"]


def _secrets(number: int) -> Iterator[str]:
    for name in EXERCISES:
        _, _, key = prepared(name, number)
        yield from key.get("tells", {}).values()
        for cell in key.get("cells", {}).values():
            yield from (slip["tell"] for slip in cell["slips"])
        yield from (group["tell"] for group in key.get("groups", []))


def test_an_assessed_task_file_holds_the_asked_keys_and_no_tell() -> None:
    for number in range(30):
        assessed, exercises = _task(number, practice=False)
        practice, _ = _task(number, practice=True)
        for secret in _secrets(number):
            assert secret not in assessed
            assert secret in practice
        for exercise in exercises:
            _is_shaped(exercise["kind"], exercise["ask"])


def _is_shaped(kind: str, ask: dict[str, Any]) -> None:
    assert set(ask) == ASK_KEYS.get(kind, {"task", "frames"})
    if kind == "frame":
        for frame in ask["frames"]:
            assert set(frame) == FRAME_KEYS[ask["task"]]
            assert all(set(cell) <= CELL_KEYS for cell in frame["fields"])
    elif kind == "table":
        for row in ask["rows"]:
            assert all(set(cell) == {"text"} or set(cell) <= CELL_KEYS for cell in row)


def test_what_is_to_be_set_or_written_is_not_in_ask() -> None:
    for number in range(DRAWS):
        names = scenarios()[number].names
        for name in ("set-dip", "set-rotary"):
            check, ask, key = prepared(name, number)
            assert ask["setting"] in ("11111100", "630")
            assert check.right_answer(ask, key) not in ask.values()
        for name in ("write-request", "write-inputs"):
            _, ask, _ = prepared(name, number)
            [cells] = [frame["fields"] for frame in ask["frames"]]
            assert [set(cell) for cell in cells] == [
                {"name", "label", "write", "digits"},
                {"name", "label", "write"},
            ]
        _, ask, key = prepared("power-table", number)
        assert all("value" not in cell for row in ask["rows"] for cell in row)
        assert key["cells"]["1.4"]["value"] == names["volts"][0] * names["amps"][0]


def test_words_to_choose_from_stand_in_an_order_that_tells_nothing() -> None:
    for name in ("any-frame", "who-asks", "power-table", "request-and-refusal"):
        orders = {
            tuple(cell["words"])
            for number in range(40)
            for cell in _all_cells(prepared(name, number)[1])
            if cell.get("write") == "word"
        }
        words = {tuple(sorted(order)) for order in orders}
        assert len(orders) == len(words), "the same list, the same order, whatever is right"


def _all_cells(ask: dict[str, Any]) -> list[dict[str, Any]]:
    if "rows" in ask:
        return [cell for row in ask["rows"] for cell in row]
    return [cell for frame in ask["frames"] for cell in frame["fields"]]
