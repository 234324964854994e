"""A log of a DeviceNet bus as sentences that a trainee learns from.

`decode_log` takes (time in s, 11-bit identifier, data) in order of time. What one frame means may
hang on those before it: the second duplicate check, the request that a response answers, the
fragments of a long message, the poll that nobody answered. The message layouts are those of
`messages`, `fragments` and `connections`.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from labkit.fieldbus.checked import byte_string, seconds
from labkit.fieldbus.devicenet.explicit_log import ExplicitLog
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES, Fragment, Reassembly
from labkit.fieldbus.devicenet.identifiers import Identifier, Purpose
from labkit.fieldbus.devicenet.messages import DuplicateCheck, strobe_outputs
from labkit.fieldbus.devicenet.scanlist import ScanEntry, ScanList
from labkit.fieldbus.devicenet.startup import CHECK_WAIT_S
from labkit.fieldbus.errors import PlanError

CHECK_TOLERANCE_S = 0.1
"""How far from one second two duplicate checks may lie before we remark on it (our choice)."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One logged frame in words. `trouble` marks what a technician should look into."""

    time_s: float
    identifier: int
    data: bytes
    text: str
    purpose: Purpose | None
    trouble: bool = False

    def __str__(self) -> str:
        mark = " (!)" if self.trouble else ""
        data = self.data.hex(" ").upper() or "no data"
        return f"{self.time_s:.6f} s  {self.identifier:03X}  {data}: {self.text}{mark}"


def decode_log(
    log: Iterable[tuple[float, int, bytes]], scan_list: ScanList | None = None
) -> list[Sentence]:
    """Each frame of a log as a `Sentence`.

    With the scan list, I/O messages of more than eight bytes are put together and sizes compared;
    without it, I/O data is shown as it stands. Raises `PlanError` for what no log can hold: an
    identifier over 11 bits, more than eight bytes, time running backwards.
    """
    entries = {entry.address: entry for entry in scan_list.entries} if scan_list else {}
    reader = _Reader(entries)
    sentences: list[Sentence] = []
    before = 0.0
    for at, (time_s, identifier, data) in enumerate(log, start=1):
        time_s = seconds(time_s, f"the time of frame {at}")
        if time_s < before:
            raise PlanError(
                f"frame {at} at {time_s} s comes after one at {before} s; sort the log by time."
            )
        before = time_s
        data = byte_string(data, f"the data of frame {at}", FRAME_BYTES)
        sentences.append(reader.read(time_s, identifier, data))
    return sentences


_Said = tuple[str, bool]


@dataclass(slots=True)
class _Reader:
    """What must be remembered of the log so far."""

    entries: Mapping[int, ScanEntry]
    explicit: ExplicitLog = field(default_factory=ExplicitLog)
    checks: dict[int, list[tuple[float, DuplicateCheck]]] = field(default_factory=dict)
    waiting: dict[int, float] = field(default_factory=dict)
    pieces: dict[Identifier, Reassembly] = field(default_factory=dict)

    def read(self, time_s: float, value: int, data: bytes) -> Sentence:
        try:
            identifier = Identifier.from_value(value)
        except PlanError as error:
            if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 0x7FF:
                raise
            return Sentence(time_s, value, data, str(error), None, trouble=True)
        try:
            text, trouble = self._words(time_s, identifier, data)
        except PlanError as error:
            text, trouble = f"{identifier.purpose.value} that cannot be read: {error}", True
        return Sentence(time_s, value, data, text, identifier.purpose, trouble)

    def _words(self, time_s: float, identifier: Identifier, data: bytes) -> _Said:
        purpose = identifier.purpose
        if purpose in _WITHOUT_NODE or identifier.address is None:
            return f"{identifier}, data {_hex(data)}", purpose is Purpose.RESERVED
        node = identifier.address
        match purpose:
            case Purpose.DUPLICATE_CHECK:
                return self._check(time_s, node, DuplicateCheck.from_bytes(data))
            case Purpose.UNCONNECTED_REQUEST | Purpose.EXPLICIT_REQUEST:
                return self.explicit.request(node, data)
            case Purpose.EXPLICIT_RESPONSE:
                return self.explicit.response(node, data)
            case Purpose.BIT_STROBE_COMMAND:
                return self._strobe(node, data)
            case Purpose.POLL_COMMAND:
                return self._poll(time_s, node, identifier, data)
            case Purpose.POLL_RESPONSE:
                return self._poll_response(node, identifier, data)
            case Purpose.BIT_STROBE_RESPONSE:
                return self._from_device(node, identifier, data, "answers the strobe with")[:2]
            case Purpose.CHANGE_OF_STATE:
                verb = "reports of its own accord (change of state or cyclic)"
                return self._from_device(node, identifier, data, verb)[:2]
            case Purpose.MASTER_ACKNOWLEDGE:
                return f"the master acknowledges the report of node {node}", False
        return f"node {node} sends a {purpose.value}: {identifier}, data {_hex(data)}", False

    def _check(self, time_s: float, node: int, check: DuplicateCheck) -> _Said:
        who = f"vendor {check.vendor}, serial number 0x{check.serial:08X}"
        if check.response:
            self.checks.pop(node, None)
            return (
                f"a node answers that address {node} is its own ({who}): "
                f"the one that asked must stay off the network"
            ), True
        earlier = self.checks.setdefault(node, [])
        earlier.append((time_s, check))
        others = [each for _, each in earlier if each != check]
        if others:
            return (
                f"another device ({who}) asks for address {node} too: "
                "two devices are set to the same address"
            ), True
        if len(earlier) == 1:
            return f"node {node} asks whether anyone else has address {node} ({who})", False
        return self._asked_again(node, earlier)

    def _asked_again(self, node: int, asked: list[tuple[float, DuplicateCheck]]) -> _Said:
        gap = asked[-1][0] - asked[-2][0]
        if len(asked) > 2:
            return (
                f"node {node} asks yet again, time {len(asked)}, {gap:.3f} s after the last: it "
                "restarted, or nobody acknowledged its frame"
            ), True
        text = (
            f"node {node} asks a second time, {gap:.3f} s after the first, "
            f"whether anyone else has address {node}"
        )
        if abs(gap - CHECK_WAIT_S) > CHECK_TOLERANCE_S:
            return f"{text}; one second would be right", True
        self.checks.pop(node)
        return f"{text}; if nobody answers within a second, it goes on line", False

    def _strobe(self, master: int, data: bytes) -> _Said:
        on = [str(node) for node, bit in strobe_outputs(data).items() if bit]
        bits = f"output bit on for {', '.join(on)}" if on else "all output bits off"
        return f"node {master}, the master, strobes its bit-strobe devices: {bits}", False

    def _poll(self, time_s: float, node: int, identifier: Identifier, data: bytes) -> _Said:
        entry = self.entries.get(node)
        size = None if entry is None else entry.output_bytes
        said, trouble, whole = self._io(identifier, data, size, "output")
        if _reports(entry):
            return f"the master sends node {node} its data, {said}", trouble
        text, trouble = self._listed(f"the master polls node {node}, {said}", trouble, node)
        if not whole:
            return text, trouble
        unanswered = self.waiting.get(node)
        self.waiting[node] = time_s
        if unanswered is None:
            return text, trouble
        return f"{text}; its poll at {unanswered:.6f} s was not answered", True

    def _poll_response(self, node: int, identifier: Identifier, data: bytes) -> _Said:
        if _reports(self.entries.get(node)):
            return f"node {node} acknowledges the master's data", False
        text, trouble, whole = self._from_device(node, identifier, data, "answers the poll with")
        if whole and self.waiting.pop(node, None) is None:
            return f"{text}, yet no poll came before it", trouble
        return text, trouble

    def _from_device(
        self, node: int, identifier: Identifier, data: bytes, verb: str
    ) -> tuple[str, bool, bool]:
        entry = self.entries.get(node)
        size = None if entry is None else entry.input_bytes
        said, trouble, whole = self._io(identifier, data, size, "input")
        return *self._listed(f"node {node} {verb} {said}", trouble, node), whole

    def _listed(self, text: str, trouble: bool, node: int) -> _Said:
        if not self.entries or node in self.entries:
            return text, trouble
        return f"{text}; node {node} is not in the scan list", True

    def _io(
        self, identifier: Identifier, data: bytes, size: int | None, what: str
    ) -> tuple[str, bool, bool]:
        """The data in words, whether it is wrong, and whether a message is whole with it."""
        if size is not None and size > FRAME_BYTES and data:
            return self._piece(identifier, data, size, what)
        text = f"{_count(len(data), what)}{': ' + _hex(data) if data else ''}"
        if size is None or len(data) == size:
            return text, False, True
        return f"{text}; the scan list says {_count(size, what)}", True, True

    def _piece(
        self, identifier: Identifier, data: bytes, size: int, what: str
    ) -> tuple[str, bool, bool]:
        fragment = Fragment.from_bytes(data)
        step = self.pieces.get(identifier, Reassembly()).take(fragment)
        if step.state.taken:
            self.pieces[identifier] = step.state
        else:
            self.pieces.pop(identifier, None)
        name = fragment.kind.name.lower()
        if step.problem:
            return f"a {name} fragment: {step.problem}, the message is lost", True, False
        if step.message is None:
            return f"a {name} fragment, {_count(len(fragment.data), what)}", False, False
        text = f"the last fragment; {_count(len(step.message), what)} in all: {_hex(step.message)}"
        if len(step.message) == size:
            return text, False, True
        return f"{text}; the scan list says {_count(size, what)}", True, True


_WITHOUT_NODE = {
    Purpose.RESERVED,
    Purpose.DYNAMIC,
    Purpose.MULTICAST_POLL_COMMAND,
    Purpose.FAULTED_REQUEST,
    Purpose.FAULTED_RESPONSE,
    Purpose.OFFLINE_OWNER_REQUEST,
    Purpose.OFFLINE_OWNER_RESPONSE,
}


def _reports(entry: ScanEntry | None) -> bool:
    """Whether an entry's messages 5 and 15 are master data and its acknowledge, not a poll."""
    return entry is not None and entry.interval_ms is not None


def _count(number: int, what: str) -> str:
    return f"no {what} byte" if not number else f"{number} {what} byte{'s' if number > 1 else ''}"


def _hex(data: bytes) -> str:
    return data.hex(" ").upper() or "none"
