"""A real bus is listened to and never written to: python-can's virtual bus, our bench playing."""

from __future__ import annotations

import time
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from threading import Thread

import can
import pytest
from can.io.canutils import CanutilsLogReader
from rig_logs import at_address, devicenet_log
from typer.testing import CliRunner

from labkit.answering.real_bus import PIECE, RealBusError, line_of, listening, pieces_of
from labkit.cli import app
from labkit.fieldbus.devicenet.heard import PlannedBus
from labkit.lab.draw import draw
from labkit.lab.reading import read_lab
from labkit.workbook import WorkbookFiles, task_data

LAB = Path(__file__).parents[1] / "lab" / "labs" / "log-of-the-rig" / "lab.md"


def messages(log: str) -> list[can.Message]:
    return list(CanutilsLogReader(StringIO(log)))


@pytest.fixture
def played() -> Iterator[can.BusABC]:
    """A node of its own on the virtual bus, from which the bench plays."""
    with can.Bus("rig", interface="virtual") as bus:
        yield bus


def test_what_is_heard_is_what_was_played_and_not_one_frame_was_sent(
    played: can.BusABC,
) -> None:
    log = devicenet_log()
    frames = [message for message in messages(log) if not message.is_error_frame]
    with can.Bus("rig", interface="virtual") as witness:
        with listening("virtual", "rig", 125_000) as bus:
            for message in frames:
                played.send(message)
            lines = [line for line in bus.lines(1.0) if line]
        seen = list(iter(lambda: witness.recv(0), None))
    assert played.recv(0) is None
    assert len(seen) == len(frames)
    again = messages(b"".join(lines).decode())
    assert [(m.arbitration_id, bytes(m.data)) for m in again] == [
        (m.arbitration_id, bytes(m.data)) for m in frames
    ]


@pytest.mark.parametrize(
    ("message", "line"),
    [
        (can.Message(1.5, 0x42F, False, data=b"\0"), b"(1.500000) can0 42F#00\n"),
        (can.Message(1.5, 0x18FEF100, True, data=b""), b"(1.500000) can0 18FEF100#\n"),
        (can.Message(1.5, 5, False, is_remote_frame=True, dlc=4), b"(1.500000) can0 005#R4\n"),
        (can.Message(1.5, is_error_frame=True), b"(1.500000) can0 20000080#\n"),
        # A clock that was set back: time in a log begins at 0.
        (can.Message(-1.0, 0x42F, False, data=b"\0"), b"(0.000000) can0 42F#00\n"),
        (can.Message(-1.0, is_error_frame=True), b"(0.000000) can0 20000080#\n"),
        (can.Message(1.5, 5, is_fd=True, data=bytes(12)), b"(1.500000) no classical CAN frame\n"),
    ],
)
def test_each_message_becomes_a_line_of_a_log(message: can.Message, line: bytes) -> None:
    assert line_of(message) == line


def test_a_long_log_is_read_in_pieces(tmp_path: Path) -> None:
    log = tmp_path / "rig.log"
    log.write_bytes(bytes(range(256)) * 1000)
    pieces = list(pieces_of(log))
    assert b"".join(pieces) == log.read_bytes()
    assert {len(piece) for piece in pieces[:-1]} == {PIECE}
    assert len(pieces) > 2


@pytest.mark.parametrize("interface", ["no-such-interface", "socketcan"])
def test_an_interface_that_is_not_there_is_told_in_a_sentence(interface: str) -> None:
    with (
        pytest.raises(RealBusError, match=f"'{interface}' cannot be opened"),
        listening(interface, "nowhere0", 125_000),
    ):
        pass


@pytest.fixture
def workbook(tmp_path: Path) -> tuple[Path, PlannedBus]:
    scenario = draw(read_lab(LAB), "rig")
    folder = tmp_path / "desk"
    folder.mkdir()
    task = task_data(
        scenario,
        workbook="desk",
        class_id="rig",
        class_title="At the rig",
        trainee={"id": "t01", "name": "Ansa Merrow"},
        practice=False,
        deadline=None,
        signing_key="0" * 64,
    )
    WorkbookFiles.of(scenario, task).write(folder)
    plan = scenario.prepare(scenario.lab.exercises[0]).ask["log"]["planned"]
    return next(folder.glob("*.ipynb")), PlannedBus.from_json(plan)


def test_the_command_listens_and_says_what_agrees(
    workbook: tuple[Path, PlannedBus], played: can.BusABC
) -> None:
    notebook, plan = workbook
    log = devicenet_log(plan, at_address("capper drive", 60))

    def play() -> None:
        time.sleep(1)
        for message in messages(log):
            played.send(message)

    player = Thread(target=play)
    player.start()
    told = ["watch", str(notebook), "--interface", "virtual", "--channel", "rig"]
    done = CliRunner().invoke(app, [*told, "--seconds", "3"])
    player.join()
    assert done.exit_code == 0, done.output
    assert "The plan is that of 'The rig as planned'." in done.output
    assert "labkit sends nothing" in done.output
    assert "✓ agrees" in done.output
    assert "node 60" in done.output
    assert "2 differ" in done.output
    assert played.recv(0) is None


def test_a_log_is_read_by_the_same_command(
    workbook: tuple[Path, PlannedBus], tmp_path: Path
) -> None:
    notebook, plan = workbook
    log = tmp_path / "rig.log"
    log.write_text(devicenet_log(plan) + "rubbish\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["watch", str(notebook), "--from", str(log)])
    assert done.exit_code == 0, done.output
    assert "10 lines agree, 0 differ, 2 cannot be told from this log" in done.output
    assert "1 line could not be read; the first: rubbish" in done.output
