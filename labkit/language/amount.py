"""Amounts to calculate with: V · A is W, V / A is Ω, and m + A is refused with a sentence.

An amount is a number and the powers of seven units that all others of the trade are made of: volt,
ampere, second, bit, metre, kelvin and radian (Ω is V/A, W is V · A, Hz is 1/s, kg is V · A · s³/m²;
SI brochure, BIPM, 9th edition, 2019, table 4). The units are those of answers, and what is shown
can be written as an answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import product
from operator import add, sub
from typing import Final

from labkit.language.number import QuantityError
from labkit.language.quantity import UNITS, Quantity, Unit, in_one_way, one

Powers = tuple[int, int, int, int, int, int, int]
"""Of volt, ampere, second, bit, metre, kelvin, radian."""

_NONE: Final[Powers] = (0, 0, 0, 0, 0, 0, 0)
_BASE: Final = ("V", "A", "s", "bit", "m", "K", "rad")
_POWERS: Final[dict[str, Powers]] = {
    "voltage": (1, 0, 0, 0, 0, 0, 0),
    "current": (0, 1, 0, 0, 0, 0, 0),
    "resistance": (1, -1, 0, 0, 0, 0, 0),
    "power": (1, 1, 0, 0, 0, 0, 0),
    "time": (0, 0, 1, 0, 0, 0, 0),
    "data rate": (0, 0, -1, 1, 0, 0, 0),
    "data size": (0, 0, 0, 1, 0, 0, 0),
    "frequency": (0, 0, -1, 0, 0, 0, 0),
    # Behind these: a product that begins with "m" reads like a prefix.
    "length": (0, 0, 0, 0, 1, 0, 0),
    "energy": (1, 1, 1, 0, 0, 0, 0),
    "temperature difference": (0, 0, 0, 0, 0, 1, 0),
    "angle": (0, 0, 0, 0, 0, 0, 1),
}
"""Of what a result is called by."""
_CALLED_OTHERWISE: Final[dict[str, Powers]] = {
    "apparent power": _POWERS["power"],
    "reactive power": _POWERS["power"],
    "torque": _POWERS["energy"],
    "rotational speed": _POWERS["frequency"],
    "inductance": (1, -1, 1, 0, 0, 0, 0),
    "capacitance": (-1, 1, 1, 0, 0, 0, 0),
    "conductance": (-1, 1, 0, 0, 0, 0, 0),
    "area": (0, 0, 0, 0, 2, 0, 0),
    "volume": (0, 0, 0, 0, 3, 0, 0),
    "speed": (0, 0, -1, 0, 1, 0, 0),
    "flow": (0, 0, -1, 0, 3, 0, 0),
    "force": (1, 1, 1, 0, -1, 0, 0),
    "pressure": (1, 1, 1, 0, -3, 0, 0),
    "mass": (1, 1, 3, 0, -2, 0, 0),
    # Tables have 0.023 Ω/m, not 23 mΩ/m: what is shown of these is a quotient of two units.
    "resistance per length": (1, -1, 0, 0, -1, 0, 0),
    "inductance per length": (1, -1, 1, 0, -1, 0, 0),
    "capacitance per length": (-1, 1, 1, 0, -1, 0, 0),
    "voltage per length": (1, 0, 0, 0, -1, 0, 0),
    "delay per length": (0, 0, 1, 0, -1, 0, 0),
    "ratio": _NONE,
    "count": _NONE,
}
_POWERS_OF: Final = {**_POWERS, **_CALLED_OTHERWISE}
_DIMENSIONS: Final = {powers: name for name, powers in _POWERS.items()}
_COUNT: Final = UNITS[""]
_PERCENT: Final = UNITS["%"]
_LOCAL: Final = frozenset(
    {"cm", "ft", "in", "min", "h", "byte", "Bd", "kBd", "MBd", "Wh", "kWh", "MWh", "°"}
)
"""Units in which nothing is shown that was not written in them."""

_WHY_NOT: Final = {
    "temperature": "it is a point on a scale. Write a difference in K",
    "level": "it is a logarithm. Write the ratio",
}

_DIGITS: Final = 6
_SAME: Final = Decimal("1e-18")
"""A share of a number that is lost to the calculation itself, and is no rounding."""
_LARGEST: Final = Decimal("1e30")
_LARGEST_SHOWN: Final = Decimal("1e15")
_KEPT: Final = (Decimal("0.001"), Decimal(100_000))
"""Numbers for which the unit stays in which somebody wrote."""
_USUAL: Final = (Decimal("0.1"), Decimal(10_000))
"""Numbers for which no prefix is needed."""
_RAISED: Final = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


def _ladder(dimension: str) -> tuple[Unit, ...]:
    """A dimension's units with their prefixes, the smallest first."""
    units = (unit for unit in UNITS.values() if unit.dimension == dimension)
    return tuple(sorted((u for u in units if u.symbol not in _LOCAL), key=lambda unit: unit.size))


_LADDERS: Final = {name: _ladder(name) for name in _DIMENSIONS.values()}
_OWN: Final = {
    name: next(unit for unit in ladder if unit.size == 1) for name, ladder in _LADDERS.items()
}
"""Each dimension's own unit, of size 1."""
_FACTORS: Final = [name for name in _OWN if name not in ("data rate", "frequency", "energy")]
"""What a product or a quotient of two units is made of: no "bit/s/m"."""
_DIVISORS: Final = [
    name for name in (*_FACTORS, "temperature difference") if sum(map(abs, _POWERS[name])) == 1
]


@dataclass(frozen=True, slots=True)
class Amount:
    """`value` counts the dimension's own unit; `unit` is that of whoever wrote, while one is clear.

    All of it raises `QuantityError` where there is no result.
    """

    value: Decimal
    powers: Powers = _NONE
    unit: Unit | None = None

    @classmethod
    def of(cls, quantity: Quantity) -> Amount:
        """A quantity as it was written."""
        unit = quantity.unit
        if not unit.is_linear:
            raise QuantityError(
                f"Nothing can be calculated here with {unit.symbol}: {_WHY_NOT[unit.dimension]}."
            )
        return _made(quantity.value * unit.size, _POWERS_OF[unit.dimension], unit)

    def __add__(self, other: Amount) -> Amount:
        self._check_joins(other, f"{self} and {other} cannot be added")
        return _made(self.value + other.value, self.powers, self.unit or other.unit)

    def __sub__(self, other: Amount) -> Amount:
        self._check_joins(other, f"{other} cannot be taken from {self}")
        return _made(self.value - other.value, self.powers, self.unit or other.unit)

    def __mul__(self, other: Amount) -> Amount:
        powers = _all(self.powers, other.powers, add)
        return _made(self.value * other.value, powers, _scaled(self, other))

    def __truediv__(self, other: Amount) -> Amount:
        if not other.value:
            raise QuantityError("This divides by zero, which has no result.")
        powers = _all(self.powers, other.powers, sub)
        unit = None if any(other.powers) else _scaled(self, other)
        return _made(self.value / other.value, powers, unit)

    def __neg__(self) -> Amount:
        return Amount(-self.value, self.powers, self.unit)

    def _check_joins(self, other: Amount, cannot: str) -> None:
        if self.powers != other.powers:
            raise QuantityError(f"{cannot}: {self} is {self._kind}, {other} is {other._kind}.")
        if self._is_percent != other._is_percent:
            raise QuantityError(f"{cannot}: write with * what the % is of, as in 24 * 5 %.")

    @property
    def _kind(self) -> str:
        """What it measures, with an article."""
        if self.powers == _NONE:
            return "a percentage" if self._is_percent else "a plain number"
        dimension = _DIMENSIONS.get(self.powers)
        return one(dimension) if dimension else f"in {_symbol(self.powers)}"

    @property
    def _is_percent(self) -> bool:
        return self.unit is _PERCENT

    @property
    def is_plain(self) -> bool:
        """Whether it is a number without a unit."""
        return self.powers == _NONE and not self._is_percent

    @property
    def is_rounded(self) -> bool:
        """Whether what is shown says less than was calculated."""
        size, _ = _scale(self)
        exact = self.value / size
        return abs(exact - _rounded(exact)) > abs(exact) * _SAME

    def __str__(self) -> str:
        """The amount in a unit that suits it, with six digits: "225.5 m", "0.023 Ω/m"."""
        size, symbol = _scale(self)
        number = f"{_rounded(self.value / size).normalize() + 0:f}"
        if symbol in UNITS:
            number = in_one_way(number, UNITS[symbol])
        return f"{number} {symbol}".strip()


def _made(value: Decimal, powers: Powers, unit: Unit | None) -> Amount:
    if value and not 1 / _LARGEST < abs(value) < _LARGEST:
        raise QuantityError("The result is too large or too small to be shown here.")
    return Amount(value, powers, unit)


def _all(left: Powers, right: Powers, operation: Callable[[int, int], int]) -> Powers:
    volt, ampere, second, bit, metre, kelvin, radian = map(operation, left, right)
    return volt, ampere, second, bit, metre, kelvin, radian


def _scaled(left: Amount, right: Amount) -> Unit | None:
    """The unit of a product, where one of the two is but a number: 3 * 4.5 m is in m."""
    if right.is_plain:
        return left.unit
    if left.is_plain:
        return right.unit
    if right.powers == left.powers == _NONE:
        return None
    if right.powers == _NONE:
        return left.unit
    return right.unit if left.powers == _NONE else None


def _scale(amount: Amount) -> tuple[Decimal, str]:
    """The size of the unit in which an amount is shown, and its symbol."""
    if amount.powers == _NONE:
        unit = _PERCENT if amount.unit is _PERCENT else _COUNT
        return unit.size, unit.symbol
    dimension = _DIMENSIONS.get(amount.powers)
    own = amount.unit
    if own and (not dimension or _is_within(amount.value / own.size, _KEPT)):
        return own.size, own.symbol
    if dimension:
        unit = _with_prefix(amount.value, dimension)
        return unit.size, unit.symbol
    parts = _parts(amount.powers)
    if parts is None or not parts[0]:
        return Decimal(1), _symbol(amount.powers)
    # Tables have 0.023 Ω/m, not 23 mΩ/m.
    unit = _with_prefix(amount.value, parts[0], _KEPT)
    return unit.size, f"{unit.symbol}{parts[1]}"


def _with_prefix(value: Decimal, dimension: str, usual: tuple[Decimal, Decimal] = _USUAL) -> Unit:
    """The unit of a dimension in which this number is read at ease."""
    if _is_within(value, usual):
        return _OWN[dimension]
    ladder = _LADDERS[dimension]
    return next((unit for unit in reversed(ladder) if abs(value) >= unit.size), ladder[0])


def _is_within(number: Decimal, limits: tuple[Decimal, Decimal]) -> bool:
    least, most = limits
    return not number or least <= abs(number) < most


def _rounded(number: Decimal) -> Decimal:
    """Six digits, or all that stand before the point."""
    if abs(number) >= _LARGEST_SHOWN:
        raise QuantityError("The result is too large to be shown here.")
    return number.quantize(Decimal(1).scaleb(min(number.adjusted() - _DIGITS + 1, 0)))


def _parts(powers: Powers) -> tuple[str, str] | None:
    """A dimension, "" for none, and what is written behind its unit: "/m", "·s"."""
    for first, second in product(["", *_FACTORS], _DIVISORS):
        left = _POWERS[first] if first else _NONE
        if _all(left, _POWERS[second], sub) == powers:
            return first, f"/{_OWN[second].symbol}" if first else f"1/{_OWN[second].symbol}"
    for first, second in product(_FACTORS, _FACTORS):
        if first != second and _all(_POWERS[first], _POWERS[second], add) == powers:
            return first, f"·{_OWN[second].symbol}"
    return None


def _symbol(powers: Powers) -> str:
    """The powers as one unit: "V/m", "1/s", "m²"."""
    if parts := _parts(powers):
        return f"{_OWN[parts[0]].symbol if parts[0] else ''}{parts[1]}"
    above = "·".join(_raised(zip(_BASE, powers, strict=True)))
    below = "/".join(_raised((base, -power) for base, power in zip(_BASE, powers, strict=True)))
    return f"{above or 1}/{below}" if below else above


def _raised(powers: Iterable[tuple[str, int]]) -> Iterator[str]:
    for base, power in powers:
        if power > 0:
            yield base if power == 1 else f"{base}{str(power).translate(_RAISED)}"
