"""Captures of a serial line as text: what reads, what does not, and that nothing else is taken."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.serial.capture import Burst, CaptureReader
from labkit.fieldbus.text_lines import PATIENCE


def bursts(text: str | bytes) -> list[Burst]:
    reader = CaptureReader()
    data = text.encode() if isinstance(text, str) else text
    return [*reader.feed(data), *reader.end()]


FRAME = bytes.fromhex("1103006b00037687")


@pytest.mark.parametrize(
    ("line", "time_s", "resolution_s"),
    [
        ("12.345678 11 03 00 6B 00 03 76 87", 12.345678, 1e-6),
        ("12.345678 1103006b00037687", 12.345678, 1e-6),
        ("12,345\t11 03 00 6B 00 03 76 87", 12.345, 1e-3),
        ("(12.5) 11 03 00 6B 00 03 76 87", 12.5, 0.1),
        ("[12.5] 11 03 00 6B 00 03 76 87", 12.5, 0.1),
        ("12: 0x11 0x03 0x00 0x6B 0x00 0x03 0x76 0x87", 12.0, 1.0),
        ("[09:15:02.345] 11 03 00 6B 00 03 76 87", 33_302.345, 1e-3),
        ("09:15:02: 11 03 00 6B 00 03 76 87", 33_302.0, 1.0),
        ("1700000000.123456 11 03 00 6B 00 03 76 87", 1_700_000_000.123456, 1e-6),
    ],
)
def test_the_ways_to_write_a_line(line: str, time_s: float, resolution_s: float) -> None:
    reader = CaptureReader()
    (burst,) = [*reader.feed(f"# logger at the controller\n{line}".encode()), *reader.end()]
    assert reader.unread == 0
    assert burst.data == FRAME
    assert burst.time_s == pytest.approx(time_s, abs=1e-9)
    assert burst.resolution_s == pytest.approx(resolution_s)


@pytest.mark.parametrize(
    "line",
    [
        "11 03 00 6B",
        "12.5",
        "12.5 1",
        "12.5 11 3",
        "12.5 11 0G",
        "(12.5 11 03",
        "12.5 11,03",
        "-1.5 11 03",
        "1e5 11 03",
        "nan 11 03",
        "٣.5 11 03",
        "12.5 " + "11 " * 800,
        "12.5 " + "11" * 998,
        "1" + "0" * 13 + ".0 11",
        "9" * 400 + " 11",
        "12.5 can0 42F#0001",
    ],
)
def test_what_is_no_line_is_counted_and_told(line: str) -> None:
    reader = CaptureReader()
    found = reader.feed(f"1.0 11 03\n{line}\n2.0 11 03\n".encode())
    assert [burst.time_s for burst in found] == [1.0, 2.0]
    assert reader.unread == 1
    assert reader.remarks == [f"1 line could not be read; the first: {reader.first_unread}"]
    assert reader.first_unread.startswith(line[:20])


@pytest.mark.parametrize(
    ("table", "time_s"),
    [
        ("time,hex\n1.5,11 03\n", 1.5),
        ("Time [ms],Parity,Data\n1500.0,ok,11 03\n", 1.5),
        ("n;time_us;bytes (hex)\n1;1500000;11 03\n", 1.5),
        ("n;time (s);hex\n1;1,5;1103\n", 1.5),
        ('time,note,hex\n1.5,"a, b","11 03"\n', 1.5),
        ("\ufeffTime\tHex\n00:00:01.5\t0x11 0x03\n", 1.5),
        ("# made at the rig\ntime,comment,hex\n1.5,,11 03\n", 1.5),
    ],
)
def test_a_table_names_its_columns(table: str, time_s: float) -> None:
    (burst,) = bursts(table)
    assert burst.data == bytes.fromhex("1103")
    assert burst.time_s == pytest.approx(time_s)


def test_names_of_columns_stand_in_the_first_line_alone() -> None:
    reader = CaptureReader()
    reader.feed(b"time,hex\n1.0,11\ntime,other,hex\n2.0,12\n")
    assert (reader.lines, reader.unread) == (2, 1)
    plain = CaptureReader()
    plain.feed(b"1.0 11\ntime,hex\n2.0 12\n")
    assert (plain.lines, plain.unread) == (2, 1)
    first = CaptureReader()
    first.feed(b"time,hex\ntime,other,hex\n1.0,11\n")
    assert (first.lines, first.unread) == (1, 1)


def test_a_live_line_that_is_no_capture_is_refused_soon() -> None:
    reader = CaptureReader(endless=True)
    with pytest.raises(PlanError, match="serial capture"):
        reader.feed(b"no capture\n" * PATIENCE)


def test_rows_of_a_table_that_do_not_fit_are_counted() -> None:
    reader = CaptureReader()
    text = "time,hex\n1.0,11\n2.0\n,11\n3.0,\n4.0,hello\n5.0,12\n1.5 11 03\n"
    assert [each.time_s for each in reader.feed(text.encode())] == [1.0, 5.0]
    assert reader.unread == 5


def test_the_day_goes_on_after_midnight() -> None:
    found = bursts("23:59:59.9 11\n00:00:00.1 12\n00:00:00.3 13\n")
    assert [each.time_s for each in found] == pytest.approx([86_399.9, 86_400.1, 86_400.3])


def test_times_that_go_back_a_little_are_left_as_they_are() -> None:
    assert [each.time_s for each in bursts("10:00:01 11\n10:00:00 12\n")] == [36_001, 36_000]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"no capture\n" * PATIENCE, "It begins: no capture"),
        (b"no capture\n", "bytes in hexadecimal"),
        (b"\0\1\2", "binary"),
        (b"PK\3\4", "ZIP archive"),
        (b"time,hex\n", "It is empty"),
    ],
)
def test_a_file_that_is_no_capture_is_refused_in_a_sentence(data: bytes, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        bursts(data)


@given(st.lists(st.integers(0, 40), max_size=6), st.binary(max_size=300))
def test_any_bytes_in_any_pieces_give_bursts_or_a_sentence(cuts: list[int], data: bytes) -> None:
    reader = CaptureReader()
    with suppress(PlanError):
        for size in [*cuts, len(data)]:
            piece, data = data[:size], data[size:]
            reader.feed(piece)
        reader.end()


@given(
    st.lists(
        st.tuples(st.floats(0, 1e9).map(lambda t: round(t, 6)), st.binary(min_size=1, max_size=40))
    ).filter(bool),
    st.integers(1, 50),
)
def test_what_is_written_is_read_again(lines: list[tuple[float, bytes]], size: int) -> None:
    text = "".join(f"{time_s:.6f} {data.hex(' ')}\n" for time_s, data in lines).encode()
    reader = CaptureReader()
    found = [b for at in range(0, len(text), size) for b in reader.feed(text[at : at + size])]
    found += reader.end()
    assert [(burst.time_s, burst.data) for burst in found] == lines
