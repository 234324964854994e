"""An invented device with its data sheet, and strategies for the CANopen tests."""

from typing import TypeVar

from hypothesis import strategies as st

from labkit.fieldbus.canopen import (
    Abort,
    AskSegment,
    Device,
    Multiplexor,
    ReadStarted,
    SdoReply,
    SdoRequest,
    Segment,
    SegmentTaken,
    StartRead,
    StartWrite,
    WriteStarted,
    read_data_sheet,
)

NODE = 5
HEARTBEAT = Multiplexor(0x1017)


def variable(index: int, name: str, kind: int, access: str, *more: str, sub: str = "") -> str:
    """One section of a data sheet."""
    lines = [f"[{index:04X}{sub}]", f"ParameterName={name}", "ObjectType=0x7"]
    lines += [f"DataType=0x{kind:04X}", f"AccessType={access}", *more]
    return "\n".join(lines) + "\n"


def record(index: int, name: str, *parts: str) -> str:
    """A record with its parts, each without the first line."""
    head = f"[{index:04X}]\nParameterName={name}\nObjectType=0x9\nSubNumber={len(parts)}\n"
    return head + "\n" + "\n".join(parts)


def part(index: int, sub: int, name: str, kind: int, access: str, *more: str) -> str:
    """A part of a record."""
    return variable(index, name, kind, access, *more, sub=f"sub{sub:X}")


def _pdo(record_index: int, mapping_index: int, identifier: str, words: list[str]) -> str:
    r, m = record_index, mapping_index
    slots = [*words, *["0"] * (4 - len(words))]
    return (
        record(
            r,
            "PDO communication",
            part(r, 0, "highest subindex", 5, "const", "DefaultValue=5"),
            part(r, 1, "identifier", 7, "rw", f"DefaultValue={identifier}"),
            part(r, 2, "transmission type", 5, "rw", "DefaultValue=255"),
            part(r, 3, "inhibit time", 6, "rw", "DefaultValue=0"),
            part(r, 5, "event time", 6, "rw", "DefaultValue=0"),
        )
        + "\n"
        + record(
            m,
            "PDO mapping",
            part(m, 0, "number of objects", 5, "rw", f"DefaultValue={len(words)}"),
            *[
                part(m, at, f"object {at}", 7, "rw", f"DefaultValue={word}")
                for at, word in enumerate(slots, start=1)
            ],
        )
    )


SHEET = "\n".join(
    [
        "; A data sheet of an invented device.",
        "[FileInfo]\nFileName=invented.eds\nFileVersion=1\n",
        "[DeviceInfo]\nVendorName=Invented Works\nVendorNumber=0x1234\n"
        "ProductName=Demo turntable\nProductNumber=7\nRevisionNumber=0x00010002\n"
        "BaudRate_125=1\nBaudRate_250=1\nBaudRate_500=1\nBaudRate_1000=0\n"
        "NrOfRXPDO=1\nNrOfTXPDO=1\nLSS_Supported=0\n",
        "[DummyUsage]\nDummy0001=0\nDummy0002=0\nDummy0003=0\nDummy0004=0\nDummy0005=1\n"
        "Dummy0006=1\nDummy0007=0\n",
        "[MandatoryObjects]\nSupportedObjects=3\n1=0x1000\n2=0x1001\n3=0x1018\n",
        "[OptionalObjects]\nSupportedObjects=9\n1=0x1008\n2=0x1014\n3=0x1017\n4=0x1400\n5=0x1600\n"
        "6=0x1800\n7=0x1A00\n8=0x6040\n9=0x6041\n",
        "[ManufacturerObjects]\nSupportedObjects=3\n1=0x2000\n2=0x2001\n3=0x2002\n",
        variable(0x1000, "device type", 7, "ro", "DefaultValue=0x00020192"),
        variable(0x1001, "error register", 5, "ro", "DefaultValue=0", "PDOMapping=1"),
        variable(0x1008, "device name", 9, "const", "DefaultValue=Demo turntable of a test"),
        variable(0x1014, "emergency identifier", 7, "rw", "DefaultValue=$NODEID+0x80"),
        variable(0x1017, "producer heartbeat time", 6, "rw", "DefaultValue=0"),
        record(
            0x1018,
            "identity",
            part(0x1018, 0, "highest subindex", 5, "const", "DefaultValue=2"),
            part(0x1018, 1, "vendor number", 7, "ro", "DefaultValue=0x1234"),
            part(0x1018, 2, "product code", 7, "ro", "DefaultValue=7"),
        ),
        _pdo(0x1400, 0x1600, "$NODEID+0x200", ["0x60400010"]),
        _pdo(0x1800, 0x1A00, "$NODEID+0x40000180", ["0x60410010"]),
        variable(
            0x2000,
            "speed",
            3,
            "rw",
            "LowLimit=-3000",
            "HighLimit=3000",
            "DefaultValue=0",
            "PDOMapping=1",
        ),
        variable(0x2001, "restart", 5, "wo", "DefaultValue=0"),
        variable(0x2002, "notes of the shift", 10, "rw"),
        variable(0x6040, "control word", 6, "rww", "DefaultValue=0", "PDOMapping=1"),
        variable(0x6041, "status word", 6, "ro", "DefaultValue=0x250", "PDOMapping=1"),
    ]
)
"""An electronic data sheet in the form of CiA 306; device and maker are invented."""


def device() -> Device:
    """The device of the sheet as node 5, come up."""
    return Device(NODE, read_data_sheet(SHEET).dictionary).power_on()[0]


PLACES = st.builds(Multiplexor, st.integers(0, 0xFFFF), st.integers(0, 255))
SIZES = st.one_of(st.none(), st.integers(0, 0xFFFF_FFFF))
SEGMENTS = st.builds(Segment, st.booleans(), st.binary(max_size=7), st.booleans())
ABORTS = st.builds(Abort, PLACES, st.integers(0, 0xFFFF_FFFF))
EXPEDITED = st.binary(min_size=1, max_size=4)


T = TypeVar("T", StartWrite, ReadStarted)


def _sized(kind: type[T]) -> st.SearchStrategy[T]:
    return st.one_of(
        st.builds(kind, PLACES, st.none(), SIZES),
        st.builds(lambda at, data: kind(at, data, len(data)), PLACES, EXPEDITED),
        st.builds(kind, PLACES, st.binary(min_size=4, max_size=4)),
    )


REQUESTS: st.SearchStrategy[SdoRequest] = st.one_of(
    _sized(StartWrite),
    st.builds(StartRead, PLACES),
    SEGMENTS,
    st.builds(AskSegment, st.booleans()),
    ABORTS,
)
REPLIES: st.SearchStrategy[SdoReply] = st.one_of(
    st.builds(WriteStarted, PLACES),
    _sized(ReadStarted),
    SEGMENTS,
    st.builds(SegmentTaken, st.booleans()),
    ABORTS,
)
