"""Requests and replies for Hypothesis, every one that can exist."""

from hypothesis import strategies as st

from labkit.fieldbus.modbus import (
    BitsReply,
    ExceptionReply,
    Function,
    ReadRequest,
    RegistersReply,
    Reply,
    Request,
    WriteCoil,
    WriteCoils,
    WriteRegister,
    WriteRegisters,
    WrittenReply,
)

WORDS = st.integers(0, 0xFFFF)
BIT_READS = st.sampled_from([Function.READ_COILS, Function.READ_DISCRETE_INPUTS])
REGISTER_READS = st.sampled_from([Function.READ_HOLDING_REGISTERS, Function.READ_INPUT_REGISTERS])


@st.composite
def reads(draw: st.DrawFn) -> ReadRequest:
    function = draw(st.one_of(BIT_READS, REGISTER_READS))
    count = draw(st.integers(1, function.most))
    return ReadRequest(function, draw(st.integers(0, 0x10000 - count)), count)


@st.composite
def coil_writes(draw: st.DrawFn) -> WriteCoils:
    count = draw(st.integers(1, 1968))
    number = draw(st.integers(0, 2**count - 1))
    values = tuple(bool(number >> place & 1) for place in range(count))
    return WriteCoils(draw(st.integers(0, 0x10000 - count)), values)


@st.composite
def register_writes(draw: st.DrawFn) -> WriteRegisters:
    values = draw(st.lists(WORDS, min_size=1, max_size=123))
    return WriteRegisters(draw(st.integers(0, 0x10000 - len(values))), tuple(values))


REQUESTS: st.SearchStrategy[Request] = st.one_of(
    reads(),
    st.builds(WriteCoil, WORDS, st.booleans()),
    st.builds(WriteRegister, WORDS, WORDS),
    coil_writes(),
    register_writes(),
)
REPLIES: st.SearchStrategy[Reply] = st.one_of(
    st.builds(BitsReply, BIT_READS, st.lists(st.booleans(), min_size=1, max_size=400).map(tuple)),
    st.builds(RegistersReply, REGISTER_READS, st.lists(WORDS, min_size=1, max_size=125).map(tuple)),
    st.builds(WriteCoil, WORDS, st.booleans()),
    st.builds(WriteRegister, WORDS, WORDS),
    st.builds(WrittenReply, st.just(Function.WRITE_MULTIPLE_COILS), WORDS, st.integers(1, 1968)),
    st.builds(WrittenReply, st.just(Function.WRITE_MULTIPLE_REGISTERS), WORDS, st.integers(1, 123)),
    st.builds(ExceptionReply, st.integers(1, 127), st.integers(1, 255)),
)
