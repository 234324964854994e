"""Log lines against python-can and cantools, which read (and write) the candump text form."""

from io import StringIO

import can
import pytest
from can.io.canutils import CanutilsLogReader, CanutilsLogWriter
from cantools import logreader
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.fieldbus.can.frame import Frame
from labkit.fieldbus.can.logline import LogLine

frames = st.one_of(
    st.builds(Frame, st.integers(0, 0x7FF), st.binary(max_size=8)),
    st.builds(Frame, st.integers(0, 0x1FFFFFFF), st.binary(max_size=8), st.just(True)),
    st.builds(Frame.remote_request, st.integers(0, 0x7FF), st.integers(0, 8)),
    st.builds(
        lambda identifier, dlc: Frame.remote_request(identifier, dlc, extended=True),
        st.integers(0, 0x1FFFFFFF),
        st.integers(0, 8),
    ),
)
lines = st.builds(
    LogLine,
    st.integers(0, 2_000_000_000_000_000).map(lambda us: us / 1_000_000),
    st.sampled_from(["can0", "vcan1", "slcan0"]),
    frames,
    st.sampled_from([True, False, None]),
)


def read_by_python_can(text: str) -> can.Message:
    return next(iter(CanutilsLogReader(StringIO(text))))


@settings(deadline=None)
@given(lines)
def test_python_can_reads_what_we_write(line: LogLine) -> None:
    message = read_by_python_can(line.to_text())
    frame = line.frame
    assert message.timestamp == pytest.approx(line.time_s, abs=1e-6)
    assert message.channel == line.channel
    assert message.arbitration_id == frame.identifier
    assert message.is_extended_id == frame.extended
    assert message.is_remote_frame == frame.remote
    assert message.dlc == frame.dlc
    assert bytes(message.data) == frame.data
    assert message.is_rx == (line.received is not False)


@settings(deadline=None)
@given(lines)
def test_we_read_what_python_can_writes(line: LogLine) -> None:
    frame = line.frame
    message = can.Message(
        timestamp=line.time_s,
        arbitration_id=frame.identifier,
        is_extended_id=frame.extended,
        is_remote_frame=frame.remote,
        is_rx=line.received is not False,
        dlc=frame.dlc,
        data=None if frame.remote else frame.data,
        channel=line.channel,
    )
    out = StringIO()
    CanutilsLogWriter(out).on_message_received(message)
    read = LogLine.from_text(out.getvalue())
    # python-can's writer leaves out how many bytes a remote frame asks for.
    asked = Frame.remote_request(frame.identifier, extended=frame.extended)
    assert read.frame == (asked if frame.remote else frame)
    assert read.time_s == pytest.approx(line.time_s, abs=1e-6)
    assert read.received == (line.received is not False)


@settings(deadline=None)
@given(lines)
def test_cantools_reads_what_we_write(line: LogLine) -> None:
    found = logreader.Parser().parse(line.to_text())
    assert found is not None
    assert found.channel == line.channel
    assert found.frame_id == line.frame.identifier
    assert found.is_extended_frame == line.frame.extended
    assert found.is_remote_frame == line.frame.remote
    assert found.data == line.frame.data
