"""A CAN log that comes in pieces; any bytes may come."""

from contextlib import suppress
from io import StringIO

import can
import pytest
from can.io.canutils import CanutilsLogReader
from can.io.csv import CSVWriter
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.log_reading import MOST_OTHERS, Logged, LogReader
from labkit.fieldbus.can.table_line import HEADER
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.text_lines import LONGEST_LINE, MOST_BYTES, PATIENCE

LOG = (
    "(0.000000) can0 42F#0007A0E8030000\n(0.010000) can0 42D#01 R\n(0.020000) can0 3C5#0102 T\n"
    "(0.030000) can0 20000088#0000000000000000\n(0.040000) can0 200000A0#0000000000000000\n"
    "(0.050000) can0 18FEF100#00\n(0.060000) can0 123#R4\n"
)


def read(data: bytes, size: int = 7) -> tuple[LogReader, list[Logged]]:
    reader = LogReader()
    found = [e for at in range(0, len(data), size) for e in reader.feed(data[at : at + size])]
    return reader, found + reader.end()


@pytest.mark.parametrize("size", [1, 2, 7, 50, 10_000])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_pieces_of_any_size_are_read_alike(size: int, newline: str) -> None:
    reader, found = read(LOG.replace("\n", newline).encode(), size)
    assert found == read(LOG.encode())[1]
    assert len(found) == 7
    assert reader.remarks == []


def test_python_can_reads_the_same_frames() -> None:
    reference: list[can.Message] = list(CanutilsLogReader(StringIO(LOG)))
    found = read(LOG.encode())[1]
    assert [each.frame is None for each in found] == [m.is_error_frame for m in reference]
    for ours, theirs in zip(found, reference, strict=True):
        assert ours.time_s == pytest.approx(theirs.timestamp)
        if ours.frame is not None:
            assert ours.frame.identifier == theirs.arbitration_id
            assert ours.frame.data == bytes(theirs.data)
            assert ours.frame.extended == theirs.is_extended_id
            assert ours.frame.remote == theirs.is_remote_frame


def test_errors_are_told_from_notes_of_the_driver() -> None:
    lost, bus_off = "(1.0) can0 20000002#00", "(1.0) can0 20000040#00"
    assert [e.unacknowledged for e in read(LOG.encode())[1] if e.frame is None] == [False, True]
    assert read(f"{lost}\n{bus_off}".encode())[1] == [Logged(1.0, None)]


def test_another_interface_is_another_bus_and_an_error_without_one_is_ours() -> None:
    text = "(1.0) can0 001#\n(1.0) can1 002#\n(1.1) can1 20000088#\n(1.1) vcan0 20000080#\n"
    reader, found = read(text.encode())
    assert [e.frame.identifier if e.frame else None for e in found] == [1, None]
    assert "Only can0 was read" in reader.remarks[0]
    many = "".join(f"(1.0) c{n} 001#\n" for n in range(10 * MOST_OTHERS))
    assert read(many.encode())[0].others


def test_what_cannot_be_read_is_counted_and_the_first_of_it_shown() -> None:
    reader, found = read(b"# a note of ours\n" + LOG.encode() + b"(x) can0 zz\n")
    assert len(found) == 7
    assert reader.remarks == ["2 lines could not be read; the first: # a note of ours"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "It is empty"),
        (b"\n\n", "It is empty"),
        (LOG.encode("utf-16"), "UTF-16"),
        (LOG.encode("utf-16-le"), "binary file"),
        (b"PK\x03\x04" + b"x" * 99, "ZIP"),
        (b"\x1f\x8b\x08", "packed"),
        (b"SQLite format 3\0", "database"),
        (b"LOGG\x90\0\0\0", "binary file"),
        (b"hello\n" * 3, "No line of this file is a frame of a CAN log. A line reads"),
        (b"x\n" * (PATIENCE + 5), "It begins: x"),
        (b"(nan) can0 001#00\n", "It begins: (nan)"),
        (f"({'9' * 400}) can0 001#00\n".encode(), "It begins: (999"),
        (f"({'9' * 400}) can0 20000088#00\n".encode(), "It begins: (999"),
        (b"(1.0) can0 001##100\n", "It begins"),
        (b"\xff\xfa\xfb" * 40, "It begins"),
    ],
)
def test_what_is_no_log_is_refused_in_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(PlanError, match=r"\.|:") as refused:
        read(data, 4096)
    assert words in str(refused.value)
    assert len(str(refused.value)) < 400


def test_a_byte_order_mark_of_utf_8_does_no_harm() -> None:
    assert len(read(b"\xef\xbb\xbf" + LOG.encode(), 4096)[1]) == 7


def test_an_endless_line_is_cut_and_nothing_of_it_is_kept() -> None:
    reader = LogReader()
    reader.feed(LOG.encode())
    for _ in range(1_000):
        reader.feed(b"A" * LONGEST_LINE)
    assert len(reader._text._left) <= LONGEST_LINE
    assert len(reader.feed(b"\n" + LOG.encode())) == 7
    assert reader.unread == 1


def test_a_log_that_is_too_large_is_refused_before_it_is_whole() -> None:
    reader, piece = LogReader(), LOG.encode() * 2_000
    for _ in range(MOST_BYTES // len(piece)):
        reader.feed(piece)
    with pytest.raises(PlanError, match="larger than 16 MB"):
        reader.feed(piece)


def test_what_comes_live_has_no_end() -> None:
    reader, piece = LogReader(endless=True), LOG.encode() * 2_000
    for _ in range(MOST_BYTES // len(piece) + 1):
        found = reader.feed(piece)
    assert len(found) == 14_000


@settings(deadline=None)
@given(st.lists(st.binary(max_size=300) | st.sampled_from(LOG.encode().splitlines(True))))
def test_any_bytes_are_read_or_refused(pieces: list[bytes]) -> None:
    reader = LogReader()
    with suppress(PlanError):
        for piece in pieces:
            reader.feed(piece)
        reader.end()
    assert all(len(each) < 200 and each.isprintable() for each in reader.remarks)


def table_of(log: str) -> str:
    """The same log as python-can's writer of tables has it."""
    out = StringIO()
    writer = CSVWriter(out)
    for message in CanutilsLogReader(StringIO(log)):
        writer.on_message_received(message)
    return out.getvalue()


def test_a_table_of_python_can_holds_the_same_frames() -> None:
    reader, found = read(table_of(LOG).encode())
    frames = [each for each in read(LOG.encode())[1] if each.frame]
    assert [each for each in found if each.frame] == frames
    # python-can keeps no kind of an error.
    assert [each for each in found if not each.frame] == [Logged(0.03, None), Logged(0.04, None)]
    assert reader.remarks == []


frames_of_any_kind = st.builds(
    lambda at, extended, identifier, data, remote: can.Message(
        timestamp=at,
        is_extended_id=extended,
        arbitration_id=identifier if extended else identifier & 0x7FF,
        data=None if remote else data,
        dlc=len(data),
        is_remote_frame=remote,
    ),
    st.floats(0, 2e9).filter(lambda at: at == 0 or at > 1e-9),
    st.booleans(),
    st.integers(0, 0x1FFFFFFF),
    st.binary(max_size=8),
    st.booleans(),
)


@given(st.lists(frames_of_any_kind, min_size=1, max_size=20))
def test_what_python_can_writes_as_a_table_is_read(messages: list[can.Message]) -> None:
    out = StringIO()
    writer = CSVWriter(out)
    for message in messages:
        writer.on_message_received(message)
    found = read(out.getvalue().encode())[1]
    assert [each.time_s for each in found] == [message.timestamp for message in messages]
    for ours, theirs in zip(found, messages, strict=True):
        assert ours.frame is not None
        assert ours.frame.identifier == theirs.arbitration_id
        assert ours.frame.extended == theirs.is_extended_id
        assert ours.frame.remote == theirs.is_remote_frame
        assert theirs.is_remote_frame or ours.frame.data == bytes(theirs.data)


@pytest.mark.parametrize(
    "row",
    [
        "1.0,0x42f,0,0,0,2,AAE",
        "1.0,0x42f,0,0,0,3,AAE=",
        "1.0,0x42f,0,0,0,12,AAECAwQFBgcICQoL",
        "1.0,0x42f,0,0,0,9,AAECAwQFBgcI",
        "1.0,0xfff,0,0,0,2,AAE=",
        "1.0,1071,0,0,0,2,AAE=",
        "1.0,0x42f,2,0,0,2,AAE=",
        "1.0,0x42f,0,1,0,99,",
        "1e999,0x42f,0,0,0,2,AAE=",
        "-1.0,0x42f,0,0,0,2,AAE=",
        "(1.0) can0 42F#0001",
        HEADER,
        "9" * 400 + ",0x1,0,0,0,0,",
    ],
)
def test_what_is_no_row_of_a_table_is_counted(row: str) -> None:
    text = f"{HEADER}\n1.0,0x42f,0,0,0,2,AAE=\n{row}\n2.0,0x42f,0,0,0,2,AAE=\n"
    reader, found = read(text.encode())
    assert [each.time_s for each in found] == [1.0, 2.0]
    assert reader.unread == 1


def test_errors_of_a_table_have_their_kind_where_it_says_one() -> None:
    rows = [f"1.0,0x{kind:x},0,0,1,8,AAAAAAAAAAA=" for kind in (0x20, 0x8, 0x2)]
    found = read("\n".join([HEADER, *rows]).encode())[1]
    assert [each.unacknowledged for each in found] == [True, False]


def test_a_row_without_its_header_is_no_line_of_a_log() -> None:
    with pytest.raises(PlanError, match="No line of this file"):
        read(b"1.0,0x42f,0,0,0,2,AAE=\n")


@given(st.text(alphabet="0123456789.,x=AaEe+/-\n", max_size=200))
def test_any_table_gives_frames_or_a_sentence(text: str) -> None:
    with suppress(PlanError):
        read(f"{HEADER}\n{text}".encode())
