"""A Modbus plan held against what was heard of the real line, a line each thing.

A capture cannot tell everything. It states no bit rate; a device that the master never asks never
speaks; and whether silences are long enough only a clock can tell that sees single characters.
Such lines say so.
"""

from collections.abc import Iterator
from typing import Final

from labkit.fieldbus.agreement import MOST_UNPLANNED, Agreement, Line, counted, stranger_lines
from labkit.fieldbus.modbus.heard import Heard, HeardDevice, PlannedDevice, PlannedLine
from labkit.fieldbus.modbus.messages import ExceptionReply
from labkit.fieldbus.serial.silence import silence

_AGREES, _DIFFERS, _UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD
_WITHOUT: Final = "without an answer"
_LEAST_SPOILED: Final = 2
"""Spoiled answers of one device alone that are a hint of two devices (our choice)."""


def hold_against_plan(plan: PlannedLine, heard: Heard) -> tuple[Line, ...]:
    """Every line: the rate, the master, each device, strangers, refusals, spoiled, silences."""
    return (
        _rate(plan, heard),
        _master(plan, heard),
        *(_device(device, heard.device(device.address)) for device in plan.devices),
        *_unplanned(plan, heard),
        *_refused(plan, heard),
        *_doubled(plan, heard),
        *_spoiled(heard),
        _silences(plan, heard),
    )


def _rate(plan: PlannedLine, heard: Heard) -> Line:
    said = "a capture states none; whoever is heard in it has those of the logger"
    if not heard.frames:
        said = (
            "no frame was read: look at rate and characters of the logger, at D0 and D1 (both ways)"
        )
    return Line(
        "bit rate and characters", f"{plan.bit_rate:g} bit/s, {plan.form.text}", said, _UNTOLD
    )


def _master(plan: PlannedLine, heard: Heard) -> Line:
    asked = sum(device.asked for device in heard.devices.values())
    to_all = f", {heard.broadcasts} to all devices" if heard.broadcasts else ""
    what = f"{plan.master}, master"
    if not asked and not heard.broadcasts:
        return Line(what, "asks", "no request in this capture", _UNTOLD)
    return Line(what, "asks", f"{counted(asked, 'request')}{to_all}", _AGREES)


def _device(device: PlannedDevice, found: HeardDevice) -> Line:
    what, planned = f"{device.name}, address", f"device {device.address}"
    if not found.asked and not found.sends:
        return Line(what, planned, "the master does not ask for it in this capture", _UNTOLD)
    if not found.asked:
        return Line(what, planned, f"sends: {counted(found.sends, 'frame')}, unasked", _DIFFERS)
    functions = ", ".join(f"{function:02X}" for function in sorted(found.functions))
    asked = f"{counted(found.asked, 'request')}{functions and f', function {functions}'}"
    amiss = _amiss(found)
    if not found.answered:
        if not amiss:
            return Line(what, planned, f"{asked}: the capture ends before an answer", _UNTOLD)
        alone = amiss == f"{found.silent} {_WITHOUT}"
        said = "never an answer" if alone else f"no good answer ({amiss})"
        return Line(what, planned, f"{asked}: {said}", _DIFFERS)
    said = f"{asked}: {counted(found.answered, 'answer')}{_after(found)}"
    if amiss:
        return Line(what, planned, f"{said}; {amiss}", _DIFFERS)
    return Line(what, planned, said, _AGREES)


def _amiss(found: HeardDevice) -> str:
    """What is not as it should be with the answers; "" where nothing is."""
    kinds = (
        (found.silent, _WITHOUT),
        (found.spoiled, "with a spoiled one"),
        (found.wrong, "with one to something else"),
        (found.unasked, "unasked: too late, or another master asked"),
    )
    return ", ".join(f"{many} {how}" for many, how in kinds if many)


def _after(found: HeardDevice) -> str:
    if not found.timed:
        return ""
    least, most = (f"{1000 * time_s:.3g}" for time_s in (found.least_s, found.most_s))
    span = least if least == most else f"{least} to {most}"
    return f", {span} ms after the request"


def _unplanned(plan: PlannedLine, heard: Heard) -> Iterator[Line]:
    planned = {device.address for device in plan.devices}
    others = {at: each for at, each in sorted(heard.devices.items()) if at not in planned}
    strangers = {at: each.sends for at, each in others.items() if each.sends}
    yield from stranger_lines(strangers, "addresses", node="device", sends="answers")
    asked = [at for at, each in others.items() if not each.sends]
    if asked:
        more = f" and {len(asked) - MOST_UNPLANNED} more" if len(asked) > MOST_UNPLANNED else ""
        said = f"asked, nobody answers: {', '.join(map(str, asked[:MOST_UNPLANNED]))}{more}"
        yield Line("addresses that the master looks for", "only those planned", said, _DIFFERS)
    if not others and heard.frames:
        yield Line("other addresses", "nobody", "nobody", _AGREES)
    if heard.foreign:
        said = counted(heard.foreign, "frame")
        yield Line("frames to addresses 248 to 255", "none", said, _DIFFERS)


def _refused(plan: PlannedLine, heard: Heard) -> Iterator[Line]:
    refusing = {at: each for at, each in sorted(heard.devices.items()) if each.refusals}
    for at, device in list(refusing.items())[:MOST_UNPLANNED]:
        each = [
            f"function {function:02X}, exception {code:02X}, {counted(many, 'time')}: "
            f"{ExceptionReply(function, code).meaning}"
            for (function, code), many in sorted(device.refusals.items())
        ]
        yield Line(f"{_named(plan, at)}, exceptions", "none", "; ".join(each), _DIFFERS)
    if more := list(refusing)[MOST_UNPLANNED:]:
        said = f"devices {', '.join(map(str, more))} refuse too"
        yield Line("more exceptions", "none", said, _DIFFERS)
    if not refusing and any(each.answered for each in heard.devices.values()):
        yield Line("exceptions", "none", "none", _AGREES)


def _doubled(plan: PlannedLine, heard: Heard) -> Iterator[Line]:
    spoiled = [at for at, each in heard.devices.items() if each.spoiled]
    others = any(each.answered for at, each in heard.devices.items() if at not in spoiled)
    twice = {at: each.again for at, each in sorted(heard.devices.items()) if each.again}
    for at, again in list(twice.items())[:MOST_UNPLANNED]:
        said = f"{counted(again, 'request')} answered twice"
        yield Line(f"{_named(plan, at)}, doubled", "none", said, _DIFFERS)
    if twice:
        return
    if len(spoiled) == 1 and others and heard.device(spoiled[0]).spoiled >= _LEAST_SPOILED:
        found = heard.device(spoiled[0])
        said = (
            f"{found.spoiled} of {found.asked} answers are spoiled, all others are sound: "
            "two devices may answer at once"
        )
        yield Line(f"{_named(plan, spoiled[0])}, doubled", "none", said, _UNTOLD)
        return
    answers = any(each.answered for each in heard.devices.values())
    said = "no request is answered twice" if answers else "no answer in this capture"
    sure = answers and not spoiled
    yield Line("doubled addresses", "none", said, _AGREES if sure else _UNTOLD)


def _spoiled(heard: Heard) -> Iterator[Line]:
    what = "frames with a wrong CRC"
    if heard.spoiled:
        said = f"{counted(heard.spoiled, 'piece')} that no device takes"
        yield Line(what, "none", said, _DIFFERS)
    elif heard.frames:
        yield Line(what, "none", "none", _AGREES)
    if heard.noise:
        said = f"{counted(heard.noise, 'byte')}: where the line turns round, or from outside"
        yield Line("single bytes before frames", "none", said, _UNTOLD)


def _silences(plan: PlannedLine, heard: Heard) -> Line:
    what = "silence between frames"
    between_s = silence(plan.bit_rate, plan.form).between_s
    planned = f"at least {1000 * between_s:.2f} ms"
    shortest = f"the shortest {1000 * heard.least_s:.2f} ms"
    if heard.early:
        said = "the logger's times are not those of single bytes, so it is no witness"
        return Line(what, planned, said, _UNTOLD)
    if heard.short:
        return Line(what, planned, f"{counted(heard.short, 'time')} less, {shortest}", _DIFFERS)
    if heard.kept:
        return Line(what, planned, f"{counted(heard.kept, 'time')} kept, {shortest}", _AGREES)
    if heard.unsure:
        said = "the logger's times are too coarse to tell"
        return Line(what, planned, said, _UNTOLD)
    return Line(what, planned, "no two frames with times of their own", _UNTOLD)


def _named(plan: PlannedLine, address: int) -> str:
    names = [device.name for device in plan.devices if device.address == address]
    return f"device {address} ({names[0]})" if names else f"device {address}"
