"""The kind `diagnosis` over a CANopen bus: a lab drawn, answered, repaired, assessed, printed."""

from __future__ import annotations

import json
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from labkit.doors.installed import check_for, page_for
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab, read_lab_text

FILE = Path(__file__).parents[2] / "lab" / "labs" / "canopen-bus" / "lab.md"
LAB = read_lab(FILE)
CHECK: Any = check_for("diagnosis")
[EXERCISE] = [each for each in LAB.exercises if each.kind == "diagnosis"]


def with_fault(kind: str) -> Any:
    """A draw whose fault is of a kind."""
    made = (draw(LAB, f"seed {number}").prepare(EXERCISE) for number in range(40))
    return next(each for each in made if each.key["faults"][0]["kind"] == kind)


KINDS = ["address set", "heartbeat set", "landed"]


@pytest.mark.parametrize("kind", KINDS)
def test_the_right_answer_is_right_and_every_slip_is_told(kind: str) -> None:
    made = with_fault(kind)
    right = CHECK.right_answer(made.ask, made.key)
    assert CHECK.check(made.ask, made.key, right).right
    for slip, answer in CHECK.slip_answers(made.ask, made.key).items():
        assert CHECK.check(made.ask, made.key, answer).slip == slip


def test_a_wrong_node_id_is_found_by_lamps_report_and_log_and_repaired() -> None:
    made = with_fault("address set")
    page: Any = page_for("diagnosis")(made.ask, made.key)
    view = page.view()
    assert [label for _, label, *_ in view["terminals"]] == ["CAN_GND", "CAN_L", "shield", "CAN_H"]
    assert view["names"]["scanner"] == "the manager"
    [fault] = made.key["faults"]
    planned = {each["name"]: each["address"] for each in view["devices"]}[fault["device"]]

    def told(kind: str, **fields: Any) -> str:
        return str(page.take({"kind": kind, **fields}, {})["entry"]["text"])

    assert f"blinking green: {fault['device']}" in told("indicators", seconds=6.0)
    report = told("scanner report")
    assert f"node {planned} no answer" in report
    assert f"node {fault['address']}, which is not in the list, is there" in report
    assert str(fault["address"]) in told("frame log", listener="controller")
    right = CHECK.right_answer(made.ask, made.key)
    assert [told(**step) for step in right["steps"]] == ["done"] * len(right["steps"])
    assert told("power on") == "done"
    assert told("scanner report").count("operational") == 3


def test_every_button_of_the_page_is_a_step_of_the_bench() -> None:
    made = with_fault("address set")
    page: Any = page_for("diagnosis")(made.ask, made.key)
    view = page.view()
    page.take({"kind": "power off"}, {})
    device = view["devices"][1]
    for work in view["device_work"]:
        asked = {each["field"]: _filled(each, device["address"]) for each in work["asks"]}
        named = {"device": device["name"]} if work["names_device"] else {}
        entry = page.take({"kind": work["kind"], **named, **asked, **work["more"]}, {})["entry"]
        assert not entry["refused"], work
    assert set(view["costs"]) >= {work["kind"] for work in view["device_work"]}


def _filled(ask: dict[str, Any], address: int) -> int:
    return int(ask["options"][0] if ask["options"] else ask["value"] or address)


@pytest.mark.parametrize("kind", KINDS)
def test_an_assessed_bench_is_recorded_and_does_not_hold_the_fault(kind: str) -> None:
    made = with_fault(kind)
    assessed: Any = page_for("diagnosis")({**made.ask, **made.assessed()}, None)
    here: Any = page_for("diagnosis")(made.ask, made.key)
    for step in (
        {"kind": "power off"},
        {"kind": "ohms", "a": "controller/4", "b": "controller/2"},
        {"kind": "power on"},
        {"kind": "volts", "a": "drive/4", "b": "drive/1"},
        {"kind": "scanner report"},
        {"kind": "indicators", "seconds": 20.0},
        {"kind": "frame log", "listener": "controller"},
    ):
        recorded, live = (each.take(step, {})["entry"] for each in (assessed, here))
        assert recorded["text"] == live["text"]
    assert kind not in json.dumps(made.ask)


def test_on_paper_it_speaks_of_the_bus_as_it_is() -> None:
    made = with_fault("heartbeat set")
    paper = CHECK.paper(made.ask) + CHECK.paper_for_marking(made.ask, made.key, 5)
    assert "1 CAN_GND, 2 CAN_L, 3 shield, 4 CAN_H" in paper
    assert "The manager's report" in unescape(paper)
    for word in ("V+", "scan list", "DeviceNet"):
        assert word not in paper


def test_a_connector_of_the_bus_is_made_up() -> None:
    text = FILE.read_text(encoding="utf-8")
    head = text[: text.index("```exercise")]
    fields = 'kind: wiring\ndevice: "{{ names[1] }}"\ntitle: One\nquestion: Wire it.\nmarks: 3\n'
    lab = read_lab_text(f"{head}```exercise one\n{fields}working: So.\n```\n")
    made = draw(lab, "a").prepare(lab.exercises[0])
    check: Any = check_for("wiring")
    right = check.right_answer(made.ask, made.key)
    assert right["conductors"] == {"green": 1, "brown": 2, "bare": 3, "white": 4}
    assert check.check(made.ask, made.key, right).right
    for slip, answer in check.slip_answers(made.ask, made.key).items():
        assert check.check(made.ask, made.key, answer).slip == slip
