"""A DeviceNet plan held against what was heard of the real bus, a line each thing.

A log cannot tell everything. A device that is not heard may be off; a log states no data rate; a
log without error frames may be of a logger that writes none; and who asked for an address before
the log began is not in it. Such lines say so.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from labkit.fieldbus.agreement import MOST_UNPLANNED, Agreement, Line, counted, stranger_lines
from labkit.fieldbus.can.hearing import error_lines, rate_line
from labkit.fieldbus.devicenet.connections import ConnectionKind
from labkit.fieldbus.devicenet.fragments import FRAME_BYTES
from labkit.fieldbus.devicenet.heard import Heard, HeardNode, PlannedBus, PlannedNode

_AGREES, _DIFFERS, _UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD


def hold_against_plan(plan: PlannedBus, heard: Heard) -> tuple[Line, ...]:
    """Every line: the rate, each device and its I/O, strangers, doubled addresses, errors."""
    return (
        rate_line(plan.rate_kbit_s, heard.frames),
        *(line for node in plan.nodes for line in _node(plan, heard, node)),
        *_unplanned(plan, heard),
        *_doubled(plan, heard),
        _foreign(heard),
        *error_lines(heard.errors, heard.unacknowledged),
    )


def _node(plan: PlannedBus, heard: Heard, node: PlannedNode) -> Iterator[Line]:
    found = heard.node(node.address)
    what = f"{node.name}, address"
    if found.sent:
        said = f"node {node.address} sends: {counted(found.sent, 'frame')}"
        yield Line(what, f"node {node.address}", said, _AGREES)
    else:
        said = "not heard: off, not connected, or set to another address or data rate"
        if node.name == plan.master:
            said = "not heard as a sender: a poll does not carry its sender's address"
        yield Line(what, f"node {node.address}", said, _UNTOLD)
    if node.kind is not None:
        yield _io(heard, node, node.kind, found)


def _io(heard: Heard, node: PlannedNode, kind: ConnectionKind, found: HeardNode) -> Line:
    what = f"{node.name}, I/O"
    planned = f"{kind.value}, {node.output_bytes} output and {node.input_bytes} input bytes"
    if kind is ConnectionKind.BIT_STROBE:
        planned = f"{kind.value}, {node.input_bytes} input bytes"
    others = _other_kinds(kind, found)
    asked, came = found.polls, getattr(found, _ANSWER[kind])
    if kind is ConnectionKind.POLL and asked and not came:
        polls = counted(asked.total(), "poll")
        return Line(what, planned, f"{polls}, never an answer{others}", _DIFFERS)
    if not came:
        return _silent(heard, what, planned, found, others)
    inputs, inputs_agree = _size(came, node.input_bytes, "input")
    outputs, outputs_agree = _outputs(kind, asked, node.output_bytes)
    said = f"{outputs}{inputs}, {counted(came.total(), _TIMES[kind])}{others}"
    if not inputs_agree or outputs_agree is _DIFFERS:
        return Line(what, planned, said, _DIFFERS)
    return Line(what, planned, said, outputs_agree)


def _silent(heard: Heard, what: str, planned: str, found: HeardNode, others: str) -> Line:
    if others:
        return Line(what, planned, f"nothing of this kind{others}", _DIFFERS)
    if found.asked and not found.sent:
        asked = counted(found.asked, "time")
        return Line(what, planned, f"the master asks for it {asked}, never an answer", _DIFFERS)
    if any(_exchanges(each) for each in heard.nodes.values()):
        return Line(what, planned, "no I/O, while other devices have theirs", _DIFFERS)
    return Line(what, planned, "this log holds no I/O at all", _UNTOLD)


def _outputs(kind: ConnectionKind, asked: Counter[int], planned: int) -> tuple[str, Agreement]:
    """The output sizes in words, with a comma behind them, and how they stand."""
    if kind is ConnectionKind.BIT_STROBE or (kind is not ConnectionKind.POLL and not planned):
        return "", _AGREES
    if not asked:
        return "no output data, ", _UNTOLD
    idle = asked[0] if planned else 0
    with_data = Counter({size: many for size, many in asked.items() if size or not idle})
    if not with_data:
        return f"{counted(idle, 'poll')} without output data (master in idle), ", _UNTOLD
    said, agree = _size(with_data, planned, "output")
    beside = f" (and {counted(idle, 'poll')} without data: master in idle)" if idle else ""
    return f"{said}{beside}, ", _AGREES if agree else _DIFFERS


def _size(sizes: Counter[int], planned: int, what: str) -> tuple[str, bool]:
    """The sizes in words, and whether all are as planned."""
    if set(sizes) == {planned}:
        return counted(planned, f"{what} byte"), True
    if len(sizes) == 1:
        return counted(next(iter(sizes)), f"{what} byte"), False
    each = [f"{many} × {counted(size, f'{what} byte')}" for size, many in sorted(sizes.items())]
    pieces = " (perhaps pieces of a longer message)" if FRAME_BYTES in sizes else ""
    return f"{', '.join(each)}{pieces}", False


def _other_kinds(kind: ConnectionKind, found: HeardNode) -> str:
    own = _ANSWER[kind]
    # What acknowledges a report, and a master's own reports, stand where polls do.
    silent = {"answers"} if own == "reports" else set()
    names = [
        words
        for key, words in _HEARD_AS.items()
        if key != own and key not in silent and getattr(found, key)
    ]
    return f"; heard instead or beside it: {', '.join(names)}" if names else ""


_ANSWER: Final = {
    ConnectionKind.POLL: "answers",
    ConnectionKind.BIT_STROBE: "strobed",
    ConnectionKind.CHANGE_OF_STATE: "reports",
    ConnectionKind.CYCLIC: "reports",
}
_TIMES: Final = {
    ConnectionKind.POLL: "answer",
    ConnectionKind.BIT_STROBE: "answer",
    ConnectionKind.CHANGE_OF_STATE: "report",
    ConnectionKind.CYCLIC: "report",
}
_HEARD_AS: Final = {
    "answers": "answers to polls",
    "strobed": "answers to the bit-strobe",
    "reports": "change of state or cyclic",
}


def _exchanges(node: HeardNode) -> bool:
    return bool(node.answers or node.strobed or node.reports)


def _unplanned(plan: PlannedBus, heard: Heard) -> Iterator[Line]:
    planned = {node.address for node in plan.nodes}
    strangers = {
        at: node.sent for at, node in heard.nodes.items() if at not in planned and node.sent
    }
    yield from stranger_lines(strangers, "addresses")
    asked = sorted(
        at for at, node in heard.nodes.items() if at not in planned and _asked_in_vain(node)
    )
    if asked:
        said = f"polled or asked, nobody answers: {', '.join(map(str, asked[:MOST_UNPLANNED]))}"
        yield Line("addresses that the master looks for", "only those planned", said, _DIFFERS)
    if not strangers and not asked and heard.frames:
        yield Line("other addresses", "nobody", "nobody", _AGREES)


def _asked_in_vain(node: HeardNode) -> bool:
    return not node.sent and bool(node.polls or node.asked)


def _doubled(plan: PlannedBus, heard: Heard) -> Iterator[Line]:
    what, planned = "doubled addresses", "none"
    names = {node.address: node.name for node in plan.nodes}
    found = {at: said for at, node in sorted(heard.nodes.items()) if (said := _twice(node))}
    for at, said in found.items():
        whose = f" ({names[at]})" if at in names else ""
        yield Line(f"node {at}{whose}, doubled", planned, said, _DIFFERS)
    if found:
        return
    if any(node.checks for node in heard.nodes.values()):
        yield Line(what, planned, "each address is asked for by one device", _AGREES)
        return
    said = "no duplicate check in this log: it began after power-up"
    yield Line(what, planned, said, _UNTOLD)


def _twice(node: HeardNode) -> str:
    """Why two devices seem to have this address; "" where nothing says so."""
    if node.devices_asking > 1:
        who = " and ".join(f"vendor {vendor} serial {serial:08X}" for vendor, serial in node.checks)
        return f"two devices ask for it, or one was exchanged meanwhile: {who}"
    if node.objections:
        return f"somebody answers that the address is taken, {counted(node.objections, 'time')}"
    if node.doubled:
        return f"{counted(node.doubled, 'poll')} answered twice"
    return ""


def _foreign(heard: Heard) -> Line:
    if not heard.foreign:
        return Line("frames of no DeviceNet message", "none", "none", _AGREES)
    return Line("frames of no DeviceNet message", "none", counted(heard.foreign, "frame"), _DIFFERS)
