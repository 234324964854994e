"""What a scratch pad calculates against published sums and the definitions of units."""

import pytest

from labkit.language.pad_lines import beside_lines


def results(*lines: str) -> list[str]:
    """What stands beside the lines, without its sign."""
    found = beside_lines(lines)
    assert [each.wrong for each in found] == [""] * len(lines)
    return [each.result[2:] for each in found]


# ODVA PUB00027R1, full calculation method, thick cable, one supply at the end: (L · Rc + n · 0.005)
# · I of each device, 2.28 V with each part rounded to 0.01 V before the sum (0.905 V up to 0.91 V).
def test_published_end_fed_example() -> None:
    parts = results(
        "(50 ft * 0.0045 ohm/ft + 1 * 0.005 ohm) * 1.00 A",
        "(100 ft * 0.0045 ohm/ft + 2 * 0.005 ohm) * 0.50 A",
        "(400 ft * 0.0045 ohm/ft + 3 * 0.005 ohm) * 0.50 A",
        "(800 ft * 0.0045 ohm/ft + 4 * 0.005 ohm) * 0.25 A",
    )
    assert parts == ["0.23 V", "0.23 V", "0.9075 V", "0.905 V"]
    [*_, total] = results("drop = 0.23 V + 0.23 V + 0.91 V + 0.91 V", "drop")
    assert total == "2.28 V"


# BIPM, The International System of Units (SI Brochure), 9th edition, 2019, table 4: volt = W/A,
# ohm = V/A, hertz = 1/s. Bit rate in bit/s: IEC 80000-13:2008, item 13-13.
@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("1 W / 1 A", "1 V"),
        ("1 V / 1 A", "1 Ω"),
        ("1 V * 1 A", "1 W"),
        ("1/(1 s)", "1 Hz"),
        ("1 A * 1 A * 1 ohm", "1 W"),
        ("1 V * 1 V / 1 ohm", "1 W"),
        ("1 bit / 1 s", "1 bit/s"),
    ],
)
def test_units_are_made_of_everybody_other_as_published(line: str, shown: str) -> None:
    assert results(line) == [shown]
