"""A capture of a Modbus line in a sign-off and at `labkit watch`; pymodbus made the frames."""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path
from typing import Any

import pytest
from line_captures import Capture, read, refused, values
from typer.testing import CliRunner

from labkit.cli import app
from labkit.doors.installed import check_for, page_for
from labkit.fieldbus.modbus.heard import PlannedLine
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError
from labkit.workbook import WorkbookFiles, task_data

HEAD = (Path(__file__).parents[2] / "lab" / "labs" / "modbus-bench" / "lab.md").read_text("utf-8")
BLOCK = """
```exercise log
kind: sign_off
title: The line as planned
question: Log the line and drop the capture here.
caution: Work on electrical equipment is for people who are trained and permitted to do it.
items:
  - {id: heard, text: The capture agrees., look_for: Each line that differs is explained.}
log:
  scanner: controller
marks: 2
working: None.
```
"""
TEXT = HEAD[: HEAD.index("```exercise")] + BLOCK
SCENARIO = draw(read_lab_text(TEXT, "lab.md"), "line")
PREPARED = SCENARIO.prepare(SCENARIO.lab.exercises[0])
PLAN = PlannedLine.from_json(PREPARED.ask["log"]["planned"])


def polled(rounds: int = 3) -> Capture:
    """The line as planned."""
    capture = Capture()
    for _ in range(rounds):
        for device in PLAN.devices:
            capture.poll(read(device.address), values(device.address))
    return capture


def dropped(text: str) -> dict[str, Any]:
    page: Any = page_for("sign_off")(PREPARED.ask, None)
    sent = {"file": "a", "piece": 0, "last": True, "name": "line.txt"}
    reply: dict[str, Any] = page.take_file({**sent, "bytes": b64encode(text.encode()).decode()})
    return reply


def test_the_plan_is_the_line_of_the_draw() -> None:
    assert (PLAN.bit_rate, PLAN.form.text, PLAN.master) == (19_200, "8E1", "controller")
    network: Any = SCENARIO.network
    assert [(each.name, each.address) for each in PLAN.devices] == [
        each for each in network.addresses if each[0] != "controller"
    ]


def test_a_capture_that_is_dropped_is_held_against_the_plan() -> None:
    reply = dropped(polled().text)
    assert reply["told"]["summary"] == "11 lines agree, 0 differ, 1 cannot be told from this log"
    check: Any = check_for("sign_off")
    answer = {**check.right_answer(PREPARED.ask, PREPARED.key), "log": reply["log"]}
    assert check.against_plan(PREPARED.ask, answer) == reply["told"]
    assert "log line.txt against the plan: 11 lines agree" in check.shown(PREPARED.ask, answer)


def test_what_differs_is_said() -> None:
    at = PLAN.devices[0].address
    told = dropped(polled().poll(read(at), refused(at)).text + "rubbish\n")["told"]
    differ = [line["what"] for line in told["lines"] if line["state"] == "differs"]
    assert differ == [f"device {at} ({PLAN.devices[0].name}), exceptions"]
    assert told["remarks"] == ["1 line could not be read; the first: rubbish"]


def test_a_log_of_a_can_bus_is_no_capture() -> None:
    assert "serial capture" in dropped("(1.0) can0 42F#0001\n")["problem"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("scanner: controller", "scanner: panel", "There is no device 'panel' in the plan"),
        ("scanner: controller", "scanner: controller\n  plan: length", "no.* a Modbus line"),
        (
            "scanner: controller",
            "scanner: controller\n  devices: [{device: controller}]",
            "leave 'devices' out",
        ),
        ("addresses[0], addr", "none, addr", "has no address"),
    ],
)
def test_an_author_is_told_what_does_not_fit(old: str, new: str, words: str) -> None:
    changed = TEXT.replace(old, new, 1)
    assert changed != TEXT
    lab = read_lab_text(changed, "lab.md")
    with pytest.raises(DefinitionError, match=words):
        draw(lab, "line").prepare(lab.exercises[0])


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    folder = tmp_path / "desk"
    folder.mkdir()
    task = task_data(
        SCENARIO,
        workbook="desk",
        class_id="line",
        class_title="At the line",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=False,
        deadline=None,
        signing_key="0" * 64,
    )
    WorkbookFiles.of(SCENARIO, task).write(folder)
    return next(folder.glob("*.ipynb"))


def test_watch_reads_a_capture_to_its_last_frame(workbook: Path, tmp_path: Path) -> None:
    capture = tmp_path / "line.txt"
    capture.write_text(polled(1).text.rstrip("\n"), encoding="utf-8")
    done = CliRunner().invoke(app, ["watch", str(workbook), "--from", str(capture)])
    assert done.exit_code == 0, done.output
    assert "11 lines agree, 0 differ, 1 cannot be told" in done.output
    capture.write_text("nothing\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["watch", str(workbook), "--from", str(capture)])
    assert "serial capture" in str(done.exception)


def test_watch_says_that_it_hears_no_serial_line(workbook: Path) -> None:
    done = CliRunner().invoke(app, ["watch", str(workbook), "--interface", "virtual"])
    assert done.exit_code == 1
    assert "no CAN bus" in done.output
