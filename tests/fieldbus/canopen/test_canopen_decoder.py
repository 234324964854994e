"""A log in words: what is said of each frame, what is marked as trouble."""

from canopen_devices import NODE, device
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.can import Frame, LogLine
from labkit.fieldbus.canopen import (
    KnownPdo,
    Multiplexor,
    PdoMapping,
    Sentence,
    decode_log,
    frame_words,
    read_exchange,
    write_exchange,
)

FRAMES = st.builds(
    lambda identifier, data, remote: (
        Frame.remote_request(identifier, len(data)) if remote else Frame(identifier, data)
    ),
    st.one_of(st.integers(0, 0x7FF), st.sampled_from([0, 0x80, 0x85, 0x585, 0x605, 0x705])),
    st.binary(max_size=8),
    st.booleans(),
)
DICTIONARIES = {NODE: device().dictionary}
PDOS = {0x185: KnownPdo("status of the turntable", PdoMapping.from_words([0x60410010]))}


def read(*frames: str | Frame, known: bool = True) -> list[Sentence]:
    lines = [
        LogLine(float(at), "can0", frame)
        if isinstance(frame, Frame)
        else LogLine.from_text(f"({at}.0) can0 {frame}")
        for at, frame in enumerate(frames)
    ]
    return list(decode_log(lines, DICTIONARIES, PDOS) if known else decode_log(lines))


def words(*frames: str | Frame, known: bool = True) -> list[str]:
    return [("(!) " if each.trouble else "") + each.text for each in read(*frames, known=known)]


@given(st.lists(FRAMES, max_size=12), st.booleans())
def test_any_frames_are_said(frames: list[Frame], known: bool) -> None:
    said = read(*frames, known=known)
    assert [each.frame for each in said] == frames
    assert all(each.text for each in said)


def test_start_of_a_network() -> None:
    assert words("705#00", "000#0105", "705#05", "080#", "185#5002", "000#8200", "705#00") == [
        "node 5 has booted up",
        "the NMT master orders node 5: start",
        "heartbeat of node 5: operational",
        "SYNC",
        "status of the turntable: 0x6041 subindex 0 = 592",
        "the NMT master orders all nodes: reset communication",
        "node 5 has booted up",
    ]


def test_a_node_that_boots_up_by_itself_is_trouble() -> None:
    assert words("705#00", "705#7F", "705#00")[2] == (
        "(!) node 5 has booted up, though nobody ordered a reset: look at its supply"
    )


def test_a_write_and_a_read_with_and_without_the_data_sheet() -> None:
    frames = write_exchange(NODE, Multiplexor(0x1017), (1000).to_bytes(2, "little"))
    assert words(*frames) == [
        "the client writes 1000 into producer heartbeat time (0x1017 subindex 0) of node 5",
        "node 5 has taken producer heartbeat time (0x1017 subindex 0) over",
    ]
    assert words(*frames, known=False) == [
        "the client writes 1000 (E8 03) into 0x1017 subindex 0 of node 5",
        "node 5 has taken 0x1017 subindex 0 over",
    ]


def test_segments_are_put_together() -> None:
    frames = read_exchange(NODE, Multiplexor(0x1008), b"Demo turntable")
    name = "device name (0x1008 subindex 0)"
    assert words(*frames) == [
        f"the client reads {name} of node 5",
        f"node 5 answers in segments: {name}, 14 bytes in all",
        "the client asks node 5 for the next segment",
        "node 5 answers with a segment of 7 bytes",
        "the client asks node 5 for the next segment",
        f"node 5 answers with the last segment; {name} is 'Demo turntable'",
    ]


def test_segments_are_written() -> None:
    frames = write_exchange(NODE, Multiplexor(0x2002), b"12345678")
    said = words(*frames)
    assert said[0].startswith("the client wants to write 8 bytes into notes of the shift")
    assert said[1].startswith("node 5 is ready for the segments of notes of the shift")
    assert said[3] == "node 5 has the segment"
    assert said[4].endswith("is 31 32 33 34 35 36 37 38")
    assert said[5] == "node 5 has the segment"


def test_a_refusal_is_trouble() -> None:
    assert words("605#2300100001020304", "585#8000100002000106")[1] == (
        "(!) node 5 refuses: the object can only be read, not written (abort 0x06010002), "
        "device type (0x1000 subindex 0)"
    )


def test_a_reply_that_nobody_asked_for_is_trouble() -> None:
    assert words("585#6017100000000000", known=False) == [
        "(!) node 5 is ready for the segments of 0x1017 subindex 0, which nothing before it "
        "asked for"
    ]


def test_a_repeated_toggle_bit_is_trouble() -> None:
    assert words("705#R1", "705#85", "705#R1", "705#85")[1::2] == [
        "node 5 answers the guarding: operational, toggle 1",
        "(!) node 5 answers the guarding: operational, toggle 1, as before: a reply is missing, "
        "or two nodes answer",
    ]


def test_process_data_and_sdo_in_a_state_that_has_none() -> None:
    assert words("705#7F", "205#0F00")[1] == (
        "(!) receive PDO 1 of node 5: 0F 00; yet node 5 is pre-operational"
    )
    assert words("705#04", "605#4000100000000000")[1].endswith("yet node 5 is stopped")


def test_a_pdo_of_the_wrong_length() -> None:
    assert words("185#50", "185#500203") == [
        "(!) status of the turntable has 1 bytes where 2 are mapped: it is not taken",
        "(!) status of the turntable: 0x6041 subindex 0 = 592; 1 bytes too many",
    ]


def test_emergencies_and_the_unknown() -> None:
    assert words("085#3081110102030405", "085#0000000000000000", "7E5#0401") == [
        "(!) emergency of node 5: a heartbeat or guarding did not come (0x8130); error register: "
        "generic, communication, maker's part 01 02 03 04 05",
        "emergency of node 5: no error any more (0x0000); error register: no bit set",
        "(!) data 04 01: identifier 0x7E5 is not in the predefined set; look whether a PDO was "
        "given it, or whether another protocol shares the bus.",
    ]
    assert frame_words(Frame.from_hex("18FF0001", "01")).startswith("a frame with the 29-bit")
