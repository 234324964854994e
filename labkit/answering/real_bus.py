"""Listening to a real CAN bus through python-can: frames come in, nothing goes out.

What is heard is handed on as lines of a log: a live bus and a log are read by the same code.
"""

from __future__ import annotations

import inspect
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from labkit.doors.check import HeldAgainstPlan, Listener
from labkit.doors.installed import check_for
from labkit.errors import LabkitError
from labkit.exchange.task_file import Task
from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine
from labkit.fieldbus.errors import PlanError

if TYPE_CHECKING:
    import can

PIECE: Final = 64 * 1024
"""Bytes of a log that are read at a time."""
_WAIT_S: Final = 0.2
_CHANNEL: Final = "can0"
_ERROR: Final = f"{_CHANNEL} 20000080#"
_SILENT: Final = "listen_only"
"""How interfaces of python-can that can keep silent on the wire are told to."""
_CANNOT: Final = (OSError, ValueError, TypeError, AttributeError, ImportError, NotImplementedError)
"""What drivers that are not there raise, beside python-can's own errors."""


class RealBusError(LabkitError):
    """The bus cannot be listened to, in a sentence."""


class HeardBus:
    """An open interface, of which nothing but listening is offered.

    `silent`: the interface was told to keep silent on the wire too, where it would acknowledge.
    """

    def __init__(self, bus: can.BusABC, *, silent: bool) -> None:
        self._bus = bus
        self.silent = silent

    def lines(self, seconds: float | None = None) -> Iterator[bytes]:
        """Lines of a log as they come; b"" now and then while nothing does. Ends after `seconds`.

        Raises `RealBusError` where the interface fails.
        """
        from can import CanError

        begun = time.monotonic()
        while seconds is None or time.monotonic() - begun < seconds:
            try:
                message = self._bus.recv(_WAIT_S)
            except (CanError, OSError) as error:
                raise RealBusError(f"The interface gives nothing any more: {error}") from error
            yield b"" if message is None else line_of(message)


@contextmanager
def listening(interface: str, channel: str, bitrate: int) -> Iterator[HeardBus]:
    """The bus at an interface of python-can, opened to listen. Raises `RealBusError`."""
    import can
    from can import CanError

    try:
        silent = _silently(interface)
        bus = can.Bus(channel=channel, interface=interface, bitrate=bitrate, **silent)
    except (CanError, *_CANNOT) as error:
        raise RealBusError(
            f"The interface '{interface}' cannot be opened at '{channel}': {error}. Names of "
            "interfaces, and what each needs, are in the documentation of python-can."
        ) from error
    try:
        yield HeardBus(bus, silent=bool(silent))
    finally:
        bus.shutdown()


def line_of(message: can.Message) -> bytes:
    """A message as a line of a log; one that is no classical CAN frame as a line that says so."""
    at = f"({max(message.timestamp, 0.0):.6f})"
    if message.is_error_frame:
        return f"{at} {_ERROR}\n".encode()
    try:
        frame = _frame(message)
        return f"{LogLine(max(message.timestamp, 0.0), _CHANNEL, frame).to_text()}\n".encode()
    except PlanError:
        return f"{at} no classical CAN frame\n".encode()


def pieces_of(file: Path) -> Iterator[bytes]:
    """A log's file, piece by piece. Raises `OSError`."""
    with file.open("rb") as opened:
        while piece := opened.read(PIECE):
            yield piece


def listener_of(task: Task) -> tuple[str, Listener] | None:
    """The first exercise of a workbook that is about a real network: its title, and a listener."""
    for exercise in task["exercises"]:
        check: Any = check_for(exercise["kind"])
        if isinstance(check, HeldAgainstPlan) and (found := check.listener(exercise["ask"])):
            return exercise["title"], found
    return None


def _frame(message: can.Message) -> Frame:
    if message.is_fd:
        raise PlanError("This is a CAN FD frame.")
    extended = message.is_extended_id
    if message.is_remote_frame:
        return Frame.remote_request(message.arbitration_id, message.dlc, extended=extended)
    return Frame(message.arbitration_id, bytes(message.data), extended)


def _silently(interface: str) -> dict[str, Any]:
    """What tells this interface to listen only; nothing where python-can knows no such word."""
    # Not opened first to be asked: until it is told, it acknowledges.
    from can.interface import _get_class_for_interface

    known = inspect.signature(_get_class_for_interface(interface).__init__).parameters
    return {_SILENT: True} if _SILENT in known else {}
