"""Hypothesis strategies for frames, shared by the CAN tests."""

from hypothesis import strategies as st

from labkit.fieldbus.can.frame import Frame


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    """Every kind of classical frame: both formats, data and remote, length codes up to 15."""
    extended = draw(st.booleans())
    identifier = draw(st.integers(0, 0x1FFFFFFF if extended else 0x7FF))
    if draw(st.booleans()):
        return Frame.remote_request(identifier, draw(st.integers(0, 15)), extended=extended)
    # Runs of equal bits are what stuffing is about, so draw bytes that have them often.
    byte = st.one_of(st.sampled_from([0x00, 0xFF, 0x0F, 0xF0, 0x1F, 0x83]), st.integers(0, 255))
    data = bytes(draw(st.lists(byte, max_size=8)))
    if len(data) == 8:
        return Frame(identifier, data, extended, dlc=draw(st.integers(8, 15)))
    return Frame(identifier, data, extended)
