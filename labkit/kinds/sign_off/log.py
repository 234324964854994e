"""A log of the real network in a sign-off: read piece by piece, held against the plan."""

from __future__ import annotations

from base64 import b64decode
from collections import Counter
from collections.abc import Mapping
from typing import Any, Final

from labkit.doors.check import AgreementLine, Agreements
from labkit.doors.installed import listening_for
from labkit.doors.listening import Hearing
from labkit.fieldbus.agreement import Agreement, counted
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.of_family import family_of
from labkit.kinds.sign_off.data import LOG, SignOffAsk

MOST_NAME: Final = 80
MOST_REMARK: Final = 200
"""Characters that are kept of a file's name, and of a remark."""
PIECE: Final = 96 * 1024
"""Bytes of the file that a page sends at a time."""
_BEGIN_AGAIN: Final = "The log was not read to its end. Drop it again."


def against_plan(ask: SignOffAsk, answer: Any) -> Agreements | None:
    """What an answer's log says of the plan; None where there is none."""
    log = answer.get(LOG) if isinstance(answer, dict) else None
    if LOG not in ask or not isinstance(log, dict):
        return None
    name = log.get("name")
    remarks = log.get("remarks")
    told: Agreements = {
        "name": _one_line(name if isinstance(name, str) else "", MOST_NAME) or "a log",
        "summary": "",
        "lines": [],
        "remarks": [_one_line(each, MOST_REMARK) for each in remarks if isinstance(each, str)][:4]
        if isinstance(remarks, list)
        else [],
        "problem": "",
    }
    try:
        listening = listening_for(family_of(ask))
        lines = listening.held_against(ask["log"]["planned"], log.get("heard"))
    except PlanError as error:
        return {**told, "problem": str(error)}
    told["lines"] = [
        {"what": e.what, "planned": e.planned, "heard": e.heard, "state": e.agreement.value}
        for e in lines
    ]
    return {**told, "summary": _summary(told["lines"])}


def in_words(told: Agreements) -> str:
    """The same in a line, for whoever reads it in a table: what differs is said in full."""
    if told["problem"]:
        return f"log {told['name']}: {told['problem']}"
    differ = [line for line in told["lines"] if line["state"] == Agreement.DIFFERS.value]
    each = "; ".join(f"{e['what']}: planned {e['planned']}, heard {e['heard']}" for e in differ)
    return f"log {told['name']} against the plan: {told['summary']}" + (
        f" ({each})" if each else ""
    )


class LogListener:
    """Listens with the plan of an exercise that has one. See `labkit.doors.check.Listener`."""

    def __init__(self, ask: SignOffAsk) -> None:
        self._ask = ask
        self._listening = listening_for(family_of(ask))
        self._hearing = self._listening.hearing(ask["log"]["planned"], endless=True)

    @property
    def on_can(self) -> bool:
        """Whether an interface to a CAN bus hears this network live."""
        return self._listening.on_can

    def feed(self, piece: bytes) -> None:
        """The next piece, as a log has it."""
        self._hearing.feed(piece)

    def end(self) -> None:
        """That was all of a log."""
        self._hearing.end()

    def told(self, name: str) -> Agreements:
        """What was heard by now, line by line."""
        log = {"name": name, "heard": self._hearing.so_far, "remarks": self._hearing.remarks}
        told = against_plan(self._ask, {LOG: log})
        assert told is not None
        return told


class LogBeingRead:
    """Reads one log at a time for a page: a new one takes the place of one that is not complete."""

    def __init__(self, ask: SignOffAsk) -> None:
        self._ask = ask
        self._file = ""
        self._hearing: Hearing | None = None
        self._next = 0

    def take(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """What comes of a message: {"problem"}, {"next"} or, with the last piece, {"log", "told"}.

        {"log"} alone is held against the plan as it is: {"told"}.
        """
        if LOG not in self._ask:
            return {"problem": "No log is asked for here."}
        if isinstance(message.get("log"), dict):
            return {"told": against_plan(self._ask, {LOG: message["log"]})}
        try:
            return self._piece(message)
        except PlanError as error:
            self._hearing = None
            return {"problem": str(error)}

    def _piece(self, message: Mapping[str, Any]) -> dict[str, Any]:
        file, number = message.get("file"), message.get("piece")
        if number == 0 and isinstance(file, str):
            self._file, self._next = file, 0
            planned = self._ask["log"]["planned"]
            self._hearing = listening_for(family_of(self._ask)).hearing(planned)
        if self._hearing is None or file != self._file or number != self._next:
            raise PlanError(_BEGIN_AGAIN)
        self._next += 1
        self._hearing.feed(_bytes(message.get("bytes")))
        if message.get("last") is not True:
            return {"next": self._next}
        self._hearing.end()
        log = {
            "name": _one_line(str(message.get("name") or ""), MOST_NAME),
            "heard": self._hearing.so_far,
            "remarks": [_one_line(each, MOST_REMARK) for each in self._hearing.remarks],
        }
        self._hearing = None
        return {"log": log, "told": against_plan(self._ask, {LOG: log})}


def _bytes(sent: object) -> bytes:
    if not isinstance(sent, str) or len(sent) > 2 * PIECE:
        raise PlanError(_BEGIN_AGAIN)
    try:
        return b64decode(sent, validate=True)
    except ValueError as error:
        raise PlanError(_BEGIN_AGAIN) from error


def _summary(lines: list[AgreementLine]) -> str:
    states = Counter(line["state"] for line in lines)
    agree, differ, untold = (states[each.value] for each in Agreement)
    verb = "differs" if differ == 1 else "differ"
    said = [f"{counted(agree, 'line')} {'agrees' if agree == 1 else 'agree'}", f"{differ} {verb}"]
    return ", ".join([*said, f"{untold} cannot be told from this log"])


def _one_line(text: str, most: int) -> str:
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())[:most]
