"""The kind `diagnosis` over a Modbus line: a lab drawn, answered, repaired, assessed, printed."""

from __future__ import annotations

import json
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text

FILE = Path(__file__).parents[2] / "lab" / "labs" / "modbus-bench" / "lab.md"
LAB = read_lab(FILE)
CHECK: Any = check_for("diagnosis")


def drawn(exercise: str, seed: str) -> Any:
    return draw(LAB, seed).prepare(next(each for each in LAB.exercises if each.id == exercise))


@pytest.mark.parametrize("exercise", ["one-is-silent", "now-and-then"])
@pytest.mark.parametrize("seed", ["a", "b", "c", "d"])
def test_the_right_answer_is_right_and_every_slip_is_told(exercise: str, seed: str) -> None:
    made = drawn(exercise, seed)
    right = CHECK.right_answer(made.ask, made.key)
    assert CHECK.check(made.ask, made.key, right).right
    for slip, answer in CHECK.slip_answers(made.ask, made.key).items():
        assert CHECK.check(made.ask, made.key, answer).slip == slip


def test_the_page_measures_watches_and_repairs() -> None:
    made = drawn("one-is-silent", "a")
    page: Any = page_for("diagnosis")(made.ask, made.key)
    view = page.view()
    assert [label for _, label, *_ in view["terminals"]] == ["D0", "D1", "common", "shield"]
    assert view["names"]["scanner"] == "the master"
    assert view["bias"] is True
    silent = made.key["faults"][0].get("device") or made.key["faults"][0]["connector"]

    def told(kind: str, **fields: Any) -> str:
        return str(page.take({"kind": kind, **fields}, {})["entry"]["text"])

    address = next(each["address"] for each in view["devices"] if each["name"] == silent)
    silent_words = "1 asked, 1 without an answer in 3 tries (3 time-outs)"
    assert f"address {address}: {silent_words}" in told("scanner report")
    assert "line lamp: " in told("indicators", seconds=6.0)
    assert "whole" in told("frame log", listener=silent)
    right = CHECK.right_answer(made.ask, made.key)
    assert [told(**step) for step in right["steps"]] == ["done"] * len(right["steps"])
    assert told("power on") == "done"
    assert "time-out" not in told("scanner report")


def test_every_button_of_the_page_is_a_step_of_the_bench() -> None:
    made = drawn("one-is-silent", "a")
    page: Any = page_for("diagnosis")(made.ask, made.key)
    view = page.view()
    page.take({"kind": "power off"}, {})
    device = view["devices"][1]
    for work in view["device_work"]:
        asked = {each["field"]: _filled(each, device["address"]) for each in work["asks"]}
        named = {"device": device["name"]} if work["names_device"] else {}
        entry = page.take({"kind": work["kind"], **named, **asked, **work["more"]}, {})["entry"]
        assert not entry["refused"], work
    for kind in ("fit bias", "remove bias"):
        assert not page.take({"kind": kind, "place": "controller"}, {})["entry"]["refused"]
    assert set(view["costs"]) >= {work["kind"] for work in view["device_work"]}


def _filled(ask: dict[str, Any], address: int) -> Any:
    value = ask["options"][0] if ask["options"] else ask["value"] or address
    return value if ask["is_text"] else float(value) if ask["field"] == "ms" else int(value)


def test_an_assessed_bench_is_recorded_and_does_not_hold_the_fault() -> None:
    made = drawn("now-and-then", "a")
    page: Any = page_for("diagnosis")({**made.ask, **made.assessed()}, None)
    fault = made.key["faults"][0]
    page.take({"kind": "power on"}, {})
    here: Any = page_for("diagnosis")(made.ask, made.key)
    here.take({"kind": "power on"}, {})
    for step in (
        {"kind": "volts", "a": "controller/2", "b": "controller/1"},
        {"kind": "scanner report"},
        {"kind": "frame log", "listener": "controller"},
    ):
        recorded, live = (each.take(step, {})["entry"] for each in (page, here))
        assert recorded["text"] == live["text"]
    assert fault["kind"] not in json.dumps(made.ask)
    refused = page.take({"kind": "fit bias", "place": "controller"}, {})["entry"]
    assert refused["refused"]


def test_on_paper_it_speaks_of_the_line_as_it_is() -> None:
    made = drawn("one-is-silent", "b")
    paper = CHECK.paper(made.ask) + CHECK.paper_for_marking(made.ask, made.key, 5)
    assert "1 D0, 2 D1, 3 common, 4 shield" in paper
    assert "The master's report" in unescape(paper)
    for word in ("CAN", "V+", "scan list"):
        assert word not in paper


def test_a_connector_of_the_line_is_made_up() -> None:
    text = FILE.read_text(encoding="utf-8")
    head = text[: text.index("```exercise")]
    fields = 'kind: wiring\ndevice: "{{ names[1] }}"\ntitle: One\nquestion: Wire it.\nmarks: 3\n'
    lab = read_lab_text(f"{head}```exercise one\n{fields}working: So.\n```\n")
    made = draw(lab, "a").prepare(lab.exercises[0])
    check: Any = check_for("wiring")
    right = check.right_answer(made.ask, made.key)
    assert right["conductors"] == {"brown": 1, "yellow": 2, "grey": 3, "bare": 4}
    assert check.check(made.ask, made.key, right).right
    slips = check.slip_answers(made.ask, made.key)
    assert check.check(made.ask, made.key, slips["data-exchanged"]).message.startswith(
        "D1 and D0 are exchanged: yellow and brown."
    )
    for slip, answer in slips.items():
        assert check.check(made.ask, made.key, answer).slip == slip
