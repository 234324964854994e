"""Published values of CANopen: lengths, cable, timing, frames; each with its source."""

import pytest

from labkit.fieldbus.can import Frame
from labkit.fieldbus.canopen import (
    CABLE_CLASSES,
    ERROR_PATTERN,
    MILLIOHM_BY_SECTION,
    RATE_LIMITS,
    RUN_MEANING,
    AbortCode,
    Emergency,
    MappedObject,
    Multiplexor,
    NodeFault,
    Pattern,
    check_cable,
    check_manual,
    check_note,
    frame_words,
    longest_by_cable_m,
    longest_by_delays_m,
    predefined_set,
    write_exchange,
)


def test_lengths_and_stubs_by_bit_rate() -> None:
    """CiA, "CANopen lower layers", bit timing table."""
    published = [
        (1000, 25, 1.5, 7.5),
        (800, 50, 2.5, 12.5),
        (500, 100, 5.5, 27.5),
        (250, 250, 11, 55),
        (125, 500, 22, 110),
        (50, 1000, 55, 275),
        (20, 2500, 137.5, 687.5),
        (10, 5000, 275, 1375),
    ]
    rows = [
        (row.bit_rate_kbps, row.bus_length_m, row.longest_stub_m, row.all_stubs_m)
        for row in RATE_LIMITS
    ]
    assert rows == published


@pytest.mark.parametrize(
    ("milliohm", "lengths"),
    [
        (90, (220, 200, 170, 150)),
        (50, (390, 360, 310, 270)),
        (33, (590, 550, 470, 410)),
        (20, (980, 900, 780, 670)),
    ],
)
def test_greatest_length_by_cable_and_nodes(milliohm: float, lengths: tuple[int, ...]) -> None:
    """A public CAN interface manual: 16 values, each within 2.2 % of AN96116's equations."""
    for nodes, published in zip((16, 32, 64, 100), lengths, strict=True):
        assert published == pytest.approx(longest_by_cable_m(milliohm, nodes), rel=0.022)
    assert milliohm in MILLIOHM_BY_SECTION.values()


def test_without_the_margin_the_lengths_of_plain_copper_are_nearly_twice_as_long() -> None:
    """0.0175 Ω·mm²/m and a threshold of 1.0 V: what the margin is to prevent."""
    naive = longest_by_cable_m(1000 * 0.0175 / 0.25, 64, margin=0)
    assert 1.7 < naive / 170 < 2.0


def test_the_disputed_resistance_cannot_be_met() -> None:
    """600 to 1000 m: 0.75 to 0.8 mm² of copper have 21.9 to 23.3 mΩ/m, more than the rival's 20."""
    longest = CABLE_CLASSES[-1]
    copper = [1000 * 0.0175 / section for section in longest.sections_mm2]
    assert copper == pytest.approx([23.3, 21.9], abs=0.05)
    assert all(20 < each < longest.milliohm_per_m for each in copper)
    assert "20 mΩ/m" in longest.disputed
    assert all(rule.ok for rule in check_cable(1000, copper[0], 0.75))


@pytest.mark.parametrize(
    ("rate", "metres", "passed", "limit"),
    [
        (1000, 25, 670, 750),
        (800, 50, 920, 1000),
        (500, 100, 1600, 1750),
        (250, 250, 3100, 3500),
        (125, 500, 5900, 7000),
    ],
)
def test_the_note_lets_every_row_of_the_rate_table_pass(
    rate: int, metres: float, passed: float, limit: float
) -> None:
    """CiA DS 102 note, in ns."""
    rule = check_note(rate, metres)
    assert (rule.value, rule.limit, rule.ok) == (passed, limit, True)


@pytest.mark.parametrize(
    ("rate", "metres"), [(1000, 18), (800, 39), (500, 103), (250, 273), (125, 613), (50, 1633)]
)
def test_length_by_a_device_manual(rate: int, metres: float) -> None:
    """A device manual's worked values."""
    assert longest_by_delays_m(rate) == pytest.approx(metres, abs=0.51)


def test_the_two_rules_disagree_at_the_fastest_rates_alone() -> None:
    table = {row.bit_rate_kbps: row.bus_length_m for row in RATE_LIMITS}
    refused = [rate for rate, metres in table.items() if not check_manual(rate, metres).ok]
    assert refused == [1000, 800]
    assert all(check_note(rate, table[rate]).ok for rate in (1000, 800))


def test_identifiers_of_the_predefined_set() -> None:
    """CiA 301 as in several public device manuals."""
    values = [each.value for each in predefined_set(5)]
    assert values == [
        *(0x085, 0x185, 0x205, 0x285, 0x305, 0x385, 0x405, 0x485, 0x505, 0x585, 0x605, 0x705),
    ]


def test_a_write_of_the_heartbeat_time() -> None:
    """605#2B171000E8030000, 585#6017100000000000: log of a general-purpose package."""
    frames = write_exchange(5, Multiplexor(0x1017), (1000).to_bytes(2, "little"))
    assert frames == (
        Frame.from_hex("605", "2B171000E8030000"),
        Frame.from_hex("585", "6017100000000000"),
    )


@pytest.mark.parametrize(
    ("data", "code"),
    [("8000100002000106", AbortCode.READ_ONLY), ("8000600000000206", AbortCode.NO_OBJECT)],
)
def test_aborts_of_a_log(data: str, code: AbortCode) -> None:
    """585#8000100002000106 is a write to a read-only object, 585#8000600000000206 no object."""
    words = frame_words(Frame.from_hex("585", data))
    assert code.words in words
    assert f"0x{code:08X}" in words


def test_read_only_and_write_only_are_not_exchanged() -> None:
    """CiA 301; one manual has the two the other way round."""
    assert (AbortCode.WRITE_ONLY, AbortCode.READ_ONLY) == (0x06010001, 0x06010002)
    assert "only be written" in AbortCode.WRITE_ONLY.words
    assert "only be read" in AbortCode.READ_ONLY.words


def test_an_emergency_of_a_log() -> None:
    """085#3081110102030405: code 0x8130, heartbeat."""
    said = Emergency.from_bytes(bytes.fromhex("3081110102030405"))
    assert (said.code, said.register, said.maker) == (0x8130, 0x11, bytes([1, 2, 3, 4, 5]))
    assert "heartbeat" in said.words


def test_a_mapping_word() -> None:
    """0x60410010 is object 0x6041, subindex 0, 16 bits."""
    assert MappedObject.from_word(0x60410010) == MappedObject(Multiplexor(0x6041, 0), 16)


def test_patterns_of_the_indicators() -> None:
    """CiA 303-3: 2.5 Hz, 10 Hz, flashes of 200 ms, 1 s of pause."""
    assert sum(Pattern.BLINKING.times_ms) == 400
    assert sum(Pattern.FLICKERING.times_ms) == 100
    assert Pattern.SINGLE_FLASH.times_ms == (200, 1000)
    assert Pattern.TRIPLE_FLASH.times_ms == (200, 200, 200, 200, 200, 1000)
    assert RUN_MEANING[Pattern.SINGLE_FLASH] == "stopped"
    assert ERROR_PATTERN[NodeFault.ERROR_CONTROL] is Pattern.DOUBLE_FLASH
    assert ERROR_PATTERN[NodeFault.BUS_OFF] is Pattern.ON
