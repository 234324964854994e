"""DeviceNet identifiers against the bit patterns of IEC 62026-3 (reference page, "Addresses")."""

import re
from collections.abc import Callable

import pytest

from labkit.fieldbus.devicenet.identifiers import AddressRole, Identifier, Purpose
from labkit.fieldbus.errors import PlanError

# The four group patterns as the page writes them, read bit by bit: m message, s and a address.
PATTERNS = {
    1: re.compile(r"0(?P<m>[01]{4})(?P<a>[01]{6})"),
    2: re.compile(r"10(?P<a>[01]{6})(?P<m>[01]{3})"),
    3: re.compile(r"11(?P<m>000|001|010|011|100|101|110)(?P<a>[01]{6})"),
    4: re.compile(r"11111(?P<m>[01]{6})"),
}
GROUP_4_LAST = 0x2F

# Predefined master/slave set, IEC 62026-3 (reference page): group, message, purpose.
PREDEFINED = [
    (1, 13, Purpose.CHANGE_OF_STATE),
    (1, 14, Purpose.BIT_STROBE_RESPONSE),
    (1, 15, Purpose.POLL_RESPONSE),
    (2, 0, Purpose.BIT_STROBE_COMMAND),
    (2, 2, Purpose.MASTER_ACKNOWLEDGE),
    (2, 3, Purpose.EXPLICIT_RESPONSE),
    (2, 4, Purpose.EXPLICIT_REQUEST),
    (2, 5, Purpose.POLL_COMMAND),
    (2, 6, Purpose.UNCONNECTED_REQUEST),
    (2, 7, Purpose.DUPLICATE_CHECK),
]

# From memory of IEC 62026-3, not on the page's published part.
FROM_MEMORY = [
    (1, 12, Purpose.MULTICAST_POLL_RESPONSE),
    (2, 1, Purpose.MULTICAST_POLL_COMMAND),
    (3, 5, Purpose.UNCONNECTED_RESPONSE),
    (3, 6, Purpose.UNCONNECTED_REQUEST_GROUP_3),
]


def by_pattern(value: int) -> tuple[int, int, int | None] | None:
    bits = f"{value:011b}"
    for group, pattern in PATTERNS.items():
        found = pattern.fullmatch(bits)
        if not found:
            continue
        message = int(found["m"], 2)
        if group < 4:
            return group, message, int(found["a"], 2)
        return (group, message, None) if message <= GROUP_4_LAST else None
    return None


def test_every_identifier_reads_as_the_pattern_says_and_goes_back() -> None:
    for value in range(2048):
        expected = by_pattern(value)
        if expected is None:
            with pytest.raises(PlanError, match="no DeviceNet message group"):
                Identifier.from_value(value)
            continue
        found = Identifier.from_value(value)
        assert (found.group, found.message, found.address) == expected, hex(value)
        assert found.value == value
        if found.purpose not in (Purpose.DYNAMIC, Purpose.RESERVED):
            assert Identifier.of(found.purpose, found.address).value == value


def test_groups_have_as_many_identifiers_as_their_free_bits_allow() -> None:
    # 2^10; 2^9; 7 * 64; 0x30; the 16 that are left over belong to none.
    counts = {1: 0, 2: 0, 3: 0, 4: 0, None: 0}
    for value in range(2048):
        try:
            counts[Identifier.from_value(value).group] += 1
        except PlanError:
            counts[None] += 1
    assert counts == {1: 1024, 2: 512, 3: 448, 4: 48, None: 16}


@pytest.mark.parametrize(("group", "message", "purpose"), PREDEFINED + FROM_MEMORY)
def test_predefined_set(group: int, message: int, purpose: Purpose) -> None:
    identifier = Identifier(group, message, 9)
    assert identifier.purpose is purpose
    assert Identifier.of(purpose, 9) == identifier


@pytest.mark.parametrize(
    ("value", "purpose"),
    [
        # Group 4, from memory of IEC 62026-3; everything below 0x2C is reserved.
        (0x7C0, Purpose.RESERVED),
        (0x7EB, Purpose.RESERVED),
        (0x7EC, Purpose.FAULTED_RESPONSE),
        (0x7ED, Purpose.FAULTED_REQUEST),
        (0x7EE, Purpose.OFFLINE_OWNER_RESPONSE),
        (0x7EF, Purpose.OFFLINE_OWNER_REQUEST),
    ],
)
def test_group_4(value: int, purpose: Purpose) -> None:
    assert Identifier.from_value(value).purpose is purpose


def test_worked_example_of_the_duplicate_check() -> None:
    # Reference page: node 5's duplicate check is 0x400 + (5 << 3) + 7 = 0x42F.
    assert Identifier.of(Purpose.DUPLICATE_CHECK, 5).value == 0x42F


@pytest.mark.parametrize(
    ("value", "role"),
    [
        (0x3C5, AddressRole.SOURCE),  # poll response of node 5
        (0x400, AddressRole.SOURCE),  # bit-strobe command of master 0
        (0x42D, AddressRole.DESTINATION),  # poll command to node 5
        (0x42B, AddressRole.SOURCE),  # explicit response of node 5
        (0x7EC, AddressRole.ABSENT),  # group 4
    ],
)
def test_whose_address_it_is(value: int, role: AddressRole) -> None:
    assert Identifier.from_value(value).role is role


def test_lower_address_and_group_win_the_bus() -> None:
    # A lower identifier wins arbitration (ISO 11898-1): device data before commands before checks.
    order = [
        Identifier.of(Purpose.POLL_RESPONSE, 63),
        Identifier.of(Purpose.POLL_COMMAND, 0),
        Identifier.of(Purpose.DUPLICATE_CHECK, 0),
        Identifier.of(Purpose.POLL_COMMAND, 1),
    ]
    assert [each.value for each in order] == sorted(each.value for each in order)


@pytest.mark.parametrize(
    "bad",
    [
        lambda: Identifier(5, 0, 0),
        lambda: Identifier(1, 16, 0),
        lambda: Identifier(2, 8, 0),
        lambda: Identifier(3, 7, 0),
        lambda: Identifier(4, 0x30),
        lambda: Identifier(4, 0, 5),
        lambda: Identifier(1, 0),
        lambda: Identifier(1, 0, 64),
        lambda: Identifier(1, 0, True),
        lambda: Identifier.from_value(2048),
        lambda: Identifier.from_value(-1),
        lambda: Identifier.from_value(1.0),  # type: ignore[arg-type]
        lambda: Identifier.from_value("42F"),  # type: ignore[arg-type]
        lambda: Identifier.of(Purpose.DYNAMIC, 5),
        lambda: Identifier.of(Purpose.FAULTED_REQUEST, 5),
    ],
)
def test_what_cannot_be_is_refused(bad: Callable[[], object]) -> None:
    with pytest.raises(PlanError, match=r"[.;]"):
        bad()
