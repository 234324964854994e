"""What a capture tells of a Modbus line; pymodbus made the frames."""

import json
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from line_captures import (
    CHARACTER_S,
    LINE,
    Capture,
    frame_of,
    read,
    refused,
    sound,
    spoiled,
    values,
    write,
)
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.bit_message import ReadCoilsRequest, ReadCoilsResponse
from pymodbus.pdu.other_message import ReportDeviceIdRequest, ReportDeviceIdResponse

from labkit.fieldbus.agreement import Agreement, Line
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.cutting import Cut, FrameCutter
from labkit.fieldbus.modbus.heard import Ear, Heard, PlannedDevice, PlannedLine
from labkit.fieldbus.modbus.heard_and_planned import hold_against_plan
from labkit.fieldbus.serial.capture import Burst, CaptureReader

AGREES, DIFFERS, UNTOLD = Agreement.AGREES, Agreement.DIFFERS, Agreement.UNTOLD


def heard_in(text: str, plan: PlannedLine = LINE) -> Heard:
    reader, ear = CaptureReader(), Ear(plan)
    for burst in [*reader.feed(text.encode()), *reader.end()]:
        ear.hear(burst)
    ear.end()
    return ear.heard


def lines_of(text: str) -> dict[str, Line]:
    return {line.what: line for line in hold_against_plan(LINE, heard_in(text))}


def states(lines: dict[str, Line], state: Agreement) -> set[str]:
    return {what for what, line in lines.items() if line.agreement is state}


@pytest.mark.parametrize("bytewise", [False, True])
def test_a_line_as_planned_agrees_in_every_line_that_a_capture_can_tell(bytewise: bool) -> None:
    lines = lines_of(sound().bytewise if bytewise else sound().text)
    assert states(lines, DIFFERS) == set()
    assert states(lines, UNTOLD) == {"bit rate and characters"}
    assert lines["controller, master"].heard == "9 requests"
    pump = "3 requests, function 03: 3 answers, 5 ms after the request"
    assert lines["pump, address"] == Line("pump, address", "device 7", pump, AGREES)
    silence = lines["silence between frames"]
    assert silence.planned == "at least 2.01 ms"
    assert silence.heard == "17 times kept, the shortest 5.00 ms"


def test_a_device_that_never_answers() -> None:
    capture = Capture()
    for _ in range(3):
        capture.poll(read(7), values(7)).poll(read(12)).poll(read(30), values(30))
    lines = lines_of(capture.text)
    assert states(lines, DIFFERS) == {"meter, address"}
    said = "3 requests, function 03: never an answer"
    assert lines["meter, address"].heard == said


def test_response_times_and_silences_are_told_from_the_shortest_on() -> None:
    capture = Capture()
    for after_s in (0.008, 0.0045, 0.006):
        capture.poll(read(7), values(7), after_s=after_s)
    lines = lines_of(capture.text)
    assert lines["pump, address"].heard.endswith(", 4.5 to 8 ms after the request")
    assert lines["silence between frames"].heard == "5 times kept, the shortest 4.50 ms"


def test_an_answer_on_the_line_of_its_request_has_no_time() -> None:
    lines = lines_of(f"1.500000 {(read(7) + values(7)).hex()}\n2.000000 {read(12).hex()}\n")
    assert lines["pump, address"].heard == "1 request, function 03: 1 answer"


def test_bytes_that_are_too_few_for_a_frame_are_none_though_their_crc_fits() -> None:
    short = b"\x07" + FramerRTU.compute_CRC(b"\x07").to_bytes(2, "big")
    assert cuts_of(Burst(1.0, b"\xff\xff")) == [None]
    assert cuts_of(Burst(1.0, short)) == [None]


def test_a_device_of_which_nothing_but_spoiled_answers_came() -> None:
    capture = Capture().poll(read(7), spoiled(values(7))).poll(read(7)).poll(read(12), values(12))
    said = "2 requests, function 03: no good answer (1 without an answer, 1 with a spoiled one)"
    assert lines_of(capture.text)["pump, address"].heard == said


def test_a_device_that_speaks_unasked() -> None:
    lines = lines_of(Capture().say(values(7)).poll(read(12), values(12)).text)
    assert lines["pump, address"].heard == "sends: 1 frame, unasked"
    assert lines["pump, address"].agreement is DIFFERS


def test_the_last_request_may_still_be_answered_when_the_capture_ends() -> None:
    lines = lines_of(Capture().poll(read(7), values(7)).poll(read(12)).text)
    assert lines["meter, address"].agreement is UNTOLD
    assert "ends before an answer" in lines["meter, address"].heard
    assert lines["valve, address"].agreement is UNTOLD
    assert "does not ask for it" in lines["valve, address"].heard


def test_a_wrong_address_is_a_device_that_is_missing_and_one_that_nobody_asks() -> None:
    """The master asks 12, the meter stands at 13: it keeps still, as devices do."""
    capture = sound().poll(read(12)).poll(read(13), values(13)).poll(read(14)).poll(read(7))
    lines = lines_of(capture.text)
    assert states(lines, DIFFERS) == {
        "meter, address",
        "device 13",
        "addresses that the master looks for",
    }
    assert lines["device 13"].heard == "answers: 1 frame"
    looked = lines["addresses that the master looks for"]
    assert looked.heard == "asked, nobody answers: 14"
    vain = lines_of(sound().poll(read(14)).text)
    assert vain["addresses that the master looks for"].agreement is DIFFERS
    assert "other addresses" not in vain


def test_exceptions_are_told_with_function_code_and_meaning() -> None:
    capture = sound().poll(read(7), refused(7)).poll(read(7), refused(7))
    lines = lines_of(capture.text)
    assert states(lines, DIFFERS) == {"device 7 (pump), exceptions"}
    told = lines["device 7 (pump), exceptions"].heard
    assert told.startswith("function 03, exception 02, 2 times: the device does not have all")
    assert lines["pump, address"].agreement is AGREES


def test_spoiled_answers_of_one_device_alone_are_a_hint_of_a_doubled_address() -> None:
    capture = sound()
    for _ in range(2):
        capture.poll(read(12), spoiled(values(12)))
    capture.poll(read(7), values(7))
    lines = lines_of(capture.text)
    assert states(lines, DIFFERS) == {"meter, address", "frames with a wrong CRC"}
    assert lines["frames with a wrong CRC"].heard == "2 pieces that no device takes"
    assert lines["meter, address"].heard.endswith(
        "3 answers, 5 ms after the request; 2 with a spoiled one"
    )
    doubled = lines["device 12 (meter), doubled"]
    assert doubled.agreement is UNTOLD
    assert doubled.heard.startswith("2 of 5 answers are spoiled")


def test_spoiled_answers_of_all_are_no_hint_of_a_doubled_address() -> None:
    capture = sound()
    for _ in range(2):
        capture.poll(read(12), spoiled(values(12))).poll(read(7), spoiled(values(7)))
    lines = lines_of(capture.text)
    assert lines["doubled addresses"].agreement is UNTOLD
    assert not any("(meter), doubled" in what for what in lines)


def test_an_answer_that_is_spoiled_in_two_pieces_is_counted_once() -> None:
    device = heard_in(
        Capture().poll(read(12), spoiled(values(12)), b"\1\2\3\4\5").poll(read(7)).text
    ).device(12)
    assert (device.asked, device.spoiled, device.silent) == (1, 1, 0)


def test_what_is_spoiled_after_an_answer_is_not_the_devices() -> None:
    heard = heard_in(Capture().poll(read(12), values(12), b"\1\2\3\4\5").text)
    assert (heard.spoiled, heard.device(12).spoiled) == (1, 0)


def test_spoiled_answers_of_the_only_device_are_no_hint_of_a_doubled_address() -> None:
    capture = Capture()
    for _ in range(3):
        capture.poll(read(12), spoiled(values(12)))
    assert lines_of(capture.text)["doubled addresses"].heard == "no answer in this capture"


def test_one_spoiled_answer_is_no_hint_of_a_doubled_address() -> None:
    lines = lines_of(sound().poll(read(12), spoiled(values(12))).text)
    assert lines["doubled addresses"].agreement is UNTOLD


def test_two_answers_to_one_request_are_a_doubled_address() -> None:
    capture = sound().poll(read(12), values(12), values(12, (1, 2))).poll(read(7), values(7))
    lines = lines_of(capture.text)
    assert states(lines, DIFFERS) == {"device 12 (meter), doubled"}
    assert lines["device 12 (meter), doubled"].heard == "1 request answered twice"
    assert lines["meter, address"].agreement is AGREES


def test_a_write_that_is_sent_again_after_its_answer_is_a_request() -> None:
    capture = Capture()
    for _ in range(3):
        capture.poll(write(7), write(7))
    assert heard_in(capture.text).device(7).asked == 3
    lines = lines_of(capture.text)
    assert lines["pump, address"].heard.startswith("3 requests, function 06: 3 answers")
    assert lines["doubled addresses"].agreement is AGREES


def test_an_answer_of_five_bytes_is_no_request() -> None:
    """Three bytes of coils: the answer could be read as a request too."""
    request = frame_of(ReadCoilsRequest(address=0, count=24, dev_id=7))
    reply = frame_of(ReadCoilsResponse(bits=[True, False] * 12, dev_id=7))
    heard = heard_in(Capture().poll(request, reply).poll(request, reply, reply).text)
    assert (heard.device(7).asked, heard.device(7).answered, heard.device(7).again) == (2, 2, 1)


def test_an_answer_that_comes_too_late_is_to_nobody() -> None:
    capture = sound().poll(read(12)).poll(read(7), values(12), values(7))
    device = heard_in(capture.text).device(12)
    assert (device.silent, device.unasked) == (1, 1)
    assert "1 unasked: too late" in lines_of(capture.text)["meter, address"].heard


def test_an_answer_to_something_else_is_told() -> None:
    capture = Capture().poll(read(7, 4), values(7)).poll(read(7), values(7))
    device = heard_in(capture.text).device(7)
    assert (device.wrong, device.silent, device.answered) == (1, 0, 1)
    assert lines_of(capture.text)["pump, address"].agreement is DIFFERS


def test_after_an_answer_something_else_is_to_nobody() -> None:
    device = heard_in(Capture().poll(read(7), values(7), values(7, (1, 2, 3))).text).device(7)
    assert (device.answered, device.wrong, device.unasked, device.again) == (1, 0, 1, 0)


def test_functions_that_are_not_known_here_are_asked_and_answered_too() -> None:
    request = frame_of(ReportDeviceIdRequest(dev_id=7))
    reply = frame_of(ReportDeviceIdResponse(identifier=b"\x55\xff", dev_id=7))
    heard = heard_in(Capture().poll(request, reply).poll(request, request, after_s=1.0).text)
    device = heard.device(7)
    assert device.functions == {0x11: 3}
    assert (device.asked, device.answered, device.silent) == (3, 1, 1)
    other = heard_in(Capture().poll(request, unknown(7, b"\1\2")).poll(read(9)).text).device(7)
    assert (other.answered, other.functions) == (0, {0x11: 1, 0x55: 1})


def test_what_goes_to_all_devices_has_no_answer() -> None:
    lines = lines_of(sound().say(write(0), 0.1).poll(read(7), values(7)).text)
    assert lines["controller, master"].heard == "10 requests, 1 to all devices"
    assert states(lines, DIFFERS) == set()


def test_reserved_addresses_are_told() -> None:
    lines = lines_of(sound().poll(read(250)).text)
    assert lines["frames to addresses 248 to 255"].heard == "1 frame"


@pytest.mark.parametrize(("after", "state"), [(3.0, DIFFERS), (0.1, DIFFERS), (4.0, AGREES)])
def test_the_silence_before_an_answer(after: float, state: Agreement) -> None:
    """3.5 characters; a device that answers sooner leaves less (V1.02, 2.5.1.1)."""
    capture = sound().poll(read(7), values(7), after_s=after * CHARACTER_S)
    lines = lines_of(capture.text)
    assert lines["silence between frames"].agreement is state
    assert lines["pump, address"].agreement is AGREES
    if state is DIFFERS:
        told = f"1 time less, the shortest {1000 * after * CHARACTER_S:.2f} ms"
        assert lines["silence between frames"].heard == told


def test_times_that_are_too_coarse_tell_no_silence_and_no_response() -> None:
    capture = sound()
    text = "".join(f"({time_s:.0f}) {data.hex()}\n" for time_s, data in capture.lines)
    lines = lines_of(text)
    assert states(lines, DIFFERS) == set()
    assert lines["silence between frames"].agreement is UNTOLD
    assert lines["pump, address"].heard == "3 requests, function 03: 3 answers"


def test_tenths_of_a_second_tell_no_response_time() -> None:
    text = "".join(f"{at}.0 {read(7).hex()}\n{at}.5 {values(7).hex()}\n" for at in range(1, 4))
    assert "ms" not in lines_of(text)["pump, address"].heard
    assert "ms" in lines_of(text.replace(".5", ".50"))["pump, address"].heard


def test_milliseconds_are_too_coarse_for_a_silence_of_about_two() -> None:
    capture = Capture(0.0).poll(read(7), values(7), after_s=0.0025)
    text = "".join(f"{time_s:.3f} {data.hex()}\n" for time_s, data in capture.lines)
    assert heard_in(text).unsure == 1


def test_a_logger_that_notes_the_time_of_the_last_byte_is_no_witness_of_silences() -> None:
    late = [(time_s + len(data) * CHARACTER_S, data) for time_s, data in sound().lines]
    text = "".join(f"{time_s:.6f} {data.hex()}\n" for time_s, data in late)
    assert heard_in(text).kept
    longer = sound().poll(read(7, 50), values(7, (1,) * 50))
    late = [(time_s + len(data) * CHARACTER_S, data) for time_s, data in longer.lines]
    late[-2] = (late[-1][0], late[-2][1])
    text = "".join(f"{time_s:.6f} {data.hex()}\n" for time_s, data in late)
    line = lines_of(text)["silence between frames"]
    assert line.agreement is UNTOLD
    assert "no witness" in line.heard


def test_request_and_answer_on_one_line_are_told_apart() -> None:
    rows = [(read(7) + values(7)), read(12) + values(12), read(30) + values(30)]
    lines = lines_of("".join(f"{at}.5 {row.hex()}\n" for at, row in enumerate(rows)))
    assert states(lines, DIFFERS) == set()
    # The time between them is worked out, not told: no response time is said.
    assert lines["pump, address"].heard == "1 request, function 03: 1 answer"
    assert lines["silence between frames"].heard.startswith("2 times kept")


def test_a_byte_of_noise_before_an_answer_costs_no_frame() -> None:
    lines = lines_of(sound().poll(read(7), b"\0" + values(7)).text)
    assert states(lines, DIFFERS) == set()
    assert lines["single bytes before frames"].heard.startswith("1 byte: ")


def cuts_of(*bursts: Burst) -> list[int | None]:
    """The addresses of the frames, None for what is spoiled."""
    cutter = FrameCutter(19_200, LINE.form)
    cuts = [cut for burst in bursts for cut in cutter.take(burst)] + list(cutter.rest())
    return [cut.frame.address if cut.frame else None for cut in cuts]


def unknown(address: int, data: bytes = b"\x01") -> bytes:
    """A frame of a function that is not known here."""
    return FramerRTU(DecodePDU(False)).encode(b"\x55" + data, address, 0)


def test_a_frame_inside_a_line_ends_where_it_reads_as_a_message() -> None:
    """A CRC that fits by chance in the middle of a line ends no frame."""
    assert cuts_of(Burst(1.0, unknown(7) + values(7))) == [None]
    assert cuts_of(Burst(1.0, unknown(7)), Burst(1.003, values(7))) == [7, 7]
    longer = values(7, tuple(unknown(9)) * 4)
    assert cuts_of(Burst(1.0, longer)) == [7]


def test_a_whole_line_is_one_frame_even_where_its_front_is_one_too() -> None:
    """The front is a frame with a CRC of its own; what follows makes the CRC fit again."""
    front = read(7)
    whole = front + b"\x00\x00"
    assert FramerRTU.compute_CRC(front).to_bytes(2, "big") == whole[-2:]
    assert cuts_of(Burst(1.0, whole), Burst(2.0, read(12))) == [7, 12]
    cutter = FrameCutter(19_200, LINE.form)
    (cut,) = [*cutter.take(Burst(1.0, whole)), *cutter.rest()]
    assert cut.frame is not None
    assert len(cut.frame.to_bytes()) == len(whole)


def test_noise_with_nothing_behind_it_is_spoiled() -> None:
    assert cuts_of(Burst(1.0, b"\0\0"), Burst(2.0, read(7))) == [None, 7]
    assert cuts_of(Burst(1.0, b"\0\0" + read(7))) == [7]


def test_lines_without_a_silence_are_not_kept_without_end() -> None:
    cutter = FrameCutter(19_200, LINE.form)
    cuts = [cut for _ in range(200) for cut in cutter.take(Burst(1.0, read(7)))]
    assert len(cuts) > 120


def test_spoiled_lines_without_end_are_given_up_in_bounded_work() -> None:
    alternating = [Burst(1.0, each) for _ in range(28) for each in (spoiled(read(7)), read(9))]
    found = cuts_of(*alternating)
    assert found.count(9) == 16


def test_a_spoiled_request_right_before_its_answer_costs_no_answer() -> None:
    bursts = [Burst(1.0, spoiled(read(7))), Burst(1.005, values(7)), Burst(1.2, read(12))]
    cutter = FrameCutter(19_200, LINE.form)
    cuts = [cut for burst in bursts for cut in cutter.take(burst)] + list(cutter.rest())
    assert [cut.frame and cut.frame.address for cut in cuts] == [None, 7, 12]


def test_a_capture_at_another_rate_reads_as_nothing() -> None:
    lines = lines_of("1.0 00 F8 FF 00\n2.0 FF\n")
    assert "no frame was read" in lines["bit rate and characters"].heard
    assert lines["controller, master"].agreement is UNTOLD
    assert lines["frames with a wrong CRC"].agreement is DIFFERS


def test_what_was_heard_is_kept_small_and_gives_the_same_lines_again() -> None:
    capture = sound().poll(read(7), refused(7)).poll(read(12), spoiled(values(12)))
    heard = heard_in(capture.text)
    text = json.dumps(heard.to_json())
    plan = PlannedLine.from_json(json.loads(json.dumps(LINE.to_json())))
    again = Heard.from_json(json.loads(text))
    assert hold_against_plan(plan, again) == hold_against_plan(LINE, heard)
    assert len(text) < 1_000


def test_the_worst_capture_stays_small() -> None:
    """Every address, all that can go wrong, functions and exceptions of many kinds."""
    capture = Capture()
    for address in range(1, 248):
        for code in range(1, 7):
            capture.poll(read(address), refused(address, code=code), values(address))
            capture.poll(read(address)).poll(write(address), spoiled(write(address)))
        capture.poll(read(address, 9), values(address))
    capture.poll(read(7), values(7))
    heard = heard_in(capture.text)
    assert len(heard.devices) == 247
    assert len(json.dumps(heard.to_json(), separators=(",", ":"))) < 14_000
    assert len(hold_against_plan(LINE, heard)) < 60
    assert sum(1 for device in heard.devices.values() if device.functions) == 32
    last = PlannedLine(LINE.bit_rate, LINE.form, "m", (PlannedDevice("far", 247),))
    assert "19 requests: 6 answers" in hold_against_plan(last, heard)[2].heard
    assert max(len(device.refusals) for device in heard.devices.values()) == 4


scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5)
anything = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["devices", "frames", "seconds", "7", "functions", "refusals"]),
            inner,
            max_size=6,
        )
    ),
    max_leaves=12,
)
EMPTY = Heard().to_json()


@settings(deadline=None)
@given(anything)
def test_what_nobody_heard_is_refused_in_a_sentence(data: object) -> None:
    for tried in (
        data,
        {**EMPTY, "devices": data},
        {**EMPTY, "devices": {"7": data}},
        {**EMPTY, "devices": {"7": [[1], data, data]}},
    ):
        with suppress(PlanError):
            heard = Heard.from_json(tried)  # type: ignore[arg-type]
            assert hold_against_plan(LINE, heard)
    with suppress(PlanError):
        PlannedLine.from_json(data)  # type: ignore[arg-type]


pieces = st.one_of(
    st.binary(min_size=1, max_size=30),
    st.sampled_from([read(7), values(7), write(12), refused(7), spoiled(read(7)), b"\0"]),
)


@settings(deadline=None)
@given(st.lists(st.tuples(st.floats(0, 20), pieces, st.sampled_from([0.0, 1e-6, 1.0]))))
def test_any_bytes_at_any_times_are_heard(rows: list[tuple[float, bytes, float]]) -> None:
    ear = Ear(LINE)
    for row in rows:
        ear.hear(Burst(*row))
    ear.end()
    heard = Heard.from_json(json.loads(json.dumps(ear.heard.to_json())))
    assert all(line.planned and line.heard for line in hold_against_plan(LINE, heard))


@settings(deadline=None)
@given(st.lists(st.binary(min_size=2, max_size=60), min_size=1, max_size=5), st.data())
def test_frames_are_found_however_the_lines_divide_them(
    messages: list[bytes], data: st.DataObject
) -> None:
    """Whole frames, with a silence between, at any division into lines."""
    capture = Capture()
    for message in messages:
        capture.say(FramerRTU(DecodePDU(False)).encode(message[1:], message[0], 0))
    cutter = FrameCutter(19_200, LINE.form)
    cuts: list[Cut] = []
    for time_s, frame in capture.lines:
        at = 0
        while at < len(frame):
            size = data.draw(st.integers(1, len(frame) - at))
            cuts += cutter.take(Burst(time_s + at * CHARACTER_S, frame[at : at + size]))
            at += size
    cuts += cutter.rest()
    found = [bytes([cut.frame.address]) + cut.frame.message for cut in cuts if cut.frame]
    assert found == messages
