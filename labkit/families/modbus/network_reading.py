"""The network family `modbus`: a trunk, taps with derivations, terminators, polarization, earth."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, Final, Literal

from pydantic import Field

from labkit.doors.network import NetworkRecipe
from labkit.families.modbus.drawing import draw_in_bands, draw_line
from labkit.families.modbus.function_units import FUNCTION_UNITS
from labkit.families.modbus.line_functions import LINE_FUNCTIONS
from labkit.families.modbus.message_functions import MESSAGE_FUNCTIONS
from labkit.families.modbus.time_functions import TIME_FUNCTIONS
from labkit.fieldbus.diagram import NARROW, WIDTH
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.modbus.network import Network
from labkit.fieldbus.modbus.parts import (
    Cable,
    Derivation,
    Device,
    Polarization,
    Tap,
    Terminator,
)
from labkit.fieldbus.serial.character import CharacterFormat
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text, check_fields
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import Place, definition_error, nearest

Names = Mapping[str, Value]
Formulas = Mapping[str, Formula]
_USUAL_FORM: Final = "8E1"


class TapFields(Strict):
    """Lists of the same length: position in m, derivation in m (0: in the trunk), device name.

    Several derivations at one tap: lists of their lengths and devices. `address`, the addresses
    (the master's is none), `load`, the unit loads, and `response`, the ms until a device begins to
    answer, may be left out.
    """

    at: Text
    derivation: Text
    device: Text
    address: Text | None = None
    load: Text | None = None
    response: Text | None = None


class CableFields(Strict):
    """The pair: `section` of a conductor in mm², and Ω/km of one conductor where it is known."""

    section: Text | None = None
    ohms: Text | None = None


class TerminatorsFields(Strict):
    """Places, m or device names; Ω of each, and nF of the `capacitor` in series with it."""

    at: Text
    ohms: Text | None = None
    capacitor: Text | None = None


class PolarizationFields(Strict):
    """Places; Ω of the pull-up and the pull-down resistor; V of the supply."""

    at: Text
    up: Text | None = None
    down: Text | None = None
    volts: Text | None = None


class ModbusFields(Strict):
    """The header's `network:` group. Formulas, but for `form` and what the picture leaves out.

    `timeout`, the ms that the master waits for a reply, and its `tries` may be left out.
    """

    family: str
    rate: Text
    form: Text = _USUAL_FORM
    trunk: Text
    cable: CableFields = Field(default_factory=CableFields)
    taps: TapFields
    master: Text | None = None
    timeout: Text | None = None
    tries: Text | None = None
    terminators: TerminatorsFields | None = None
    polarization: PolarizationFields | None = None
    earth: Text | None = None
    picture_leaves_out: list[
        Literal["rate", "addresses", "loads", "terminators", "polarization", "earth"]
    ] = Field(alias="picture leaves out", default_factory=list)


class ModbusFamily:
    """The family's entry point."""

    functions: Mapping[str, Any] = MappingProxyType(
        {**LINE_FUNCTIONS, **MESSAGE_FUNCTIONS, **TIME_FUNCTIONS}
    )
    units = FUNCTION_UNITS

    def recipe(self, fields: Mapping[str, Any], reader: FieldReader) -> NetworkRecipe:  # noqa: ARG002
        """Read the header's `network:` group. Raises `DefinitionError`."""
        group: ModbusFields = check_fields(
            ModbusFields, reader.fields.inside("network"), "network → "
        )

        def read(part: Strict | None, name: str) -> Formulas:
            written = part.model_dump(exclude_none=True) if part else {}
            return {
                key: reader.formula(text, "network", name, key) for key, text in written.items()
            }

        alone = {
            name: reader.formula(text, "network", name)
            for name in ("rate", "trunk", "master", "timeout", "tries", "earth")
            if (text := getattr(group, name)) is not None
        }
        return ModbusRecipe(
            alone,
            reader.prose(group.form, "network", "form"),
            read(group.cable, "cable"),
            read(group.taps, "taps"),
            read(group.terminators, "terminators"),
            read(group.polarization, "polarization"),
            frozenset(group.picture_leaves_out),
            reader.place("network"),
        )


@dataclass(frozen=True, slots=True)
class ModbusRecipe:
    """The formulas that a line is made from."""

    alone: Formulas
    form: Prose
    cable: Formulas
    taps: Formulas
    terminators: Formulas
    polarization: Formulas
    left_out: frozenset[str]
    place: Place

    @property
    def names(self) -> frozenset[str]:
        """The names that the formulas use."""
        groups = (self.alone, self.cable, self.taps, self.terminators, self.polarization)
        formulas = (formula for group in groups for formula in group.values())
        return self.form.names.union(*(formula.names for formula in formulas))

    def build(self, values: Names) -> Network:
        """The line of a scenario. Raises `DefinitionError` when it cannot be built."""
        try:
            return Network(
                length=self.alone["trunk"].number(values),
                taps=tuple(self._taps(values)),
                terminators=tuple(self._terminators(values)),
                polarizations=tuple(self._polarizations(values)),
                earths=self._earths(values),
                bit_rate=self.alone["rate"].number(values),
                form=self._form(values),
                cable=self._cable(values),
                timeout_ms=self._of_master("timeout", values),
                tries=self._of_master("tries", values),
            )
        except PlanError as error:
            raise definition_error(self.place, str(error)) from error

    def _form(self, values: Names) -> CharacterFormat:
        text = self.form.render(values).strip()
        try:
            return CharacterFormat.from_text(text)
        except PlanError as error:
            sentence, _, mend = str(error).partition(": ")
            mend = f"{mend[:1].upper()}{mend[1:]}"
            raise definition_error(self.form.place, f"{sentence}.", mend) from error

    def _of_master(self, name: str, values: Names) -> Any:
        return self.alone[name].evaluate(values) if name in self.alone else None

    def _earths(self, values: Names) -> tuple[Any, ...]:
        earth = self.alone.get("earth")
        return tuple(_listed(earth, values)) if earth else ()

    def _cable(self, values: Names) -> Cable:
        made = {
            _CABLE[name]: round(formula.number(values), 9) for name, formula in self.cable.items()
        }
        return Cable(**made)

    def _terminators(self, values: Names) -> Iterator[Terminator]:
        for row in self._rows("terminators", self.terminators, values):
            yield Terminator(row.pop("at"), **_renamed(row, _TERMINATOR))

    def _polarizations(self, values: Names) -> Iterator[Polarization]:
        for row in self._rows("polarization", self.polarization, values):
            yield Polarization(row.pop("at"), **_renamed(row, _POLARIZATION))

    def _rows(self, what: str, formulas: Formulas, values: Names) -> Iterator[dict[str, Any]]:
        """A row for each place; a value that is no list is that of all places."""
        if not formulas:
            return
        columns = {name: formula.evaluate(values) for name, formula in formulas.items()}
        places = _listed(formulas["at"], values)
        columns["at"] = places
        for name, column in columns.items():
            if isinstance(column, list | tuple) and len(column) != len(places):
                raise definition_error(
                    formulas[name].place,
                    f"network → {what}: {len(places)} places and {len(column)} of '{name}'.",
                    "Give a list as long as 'at', or one value for all.",
                )
        for at in range(len(places)):
            yield {
                name: column[at] if isinstance(column, list | tuple) else column
                for name, column in columns.items()
            }

    def _taps(self, values: Names) -> Iterator[Tap]:
        columns = {name: _list(formula, values) for name, formula in self.taps.items()}
        sizes = {name: len(column) for name, column in columns.items()}
        if len(set(sizes.values())) > 1:
            counts = ", ".join(f"{name} {size}" for name, size in sizes.items())
            raise definition_error(
                self.taps["at"].place.at("network → taps"),
                f"the lists differ in length ({counts}).",
                "Give each tap a position, a derivation and a device.",
            )
        master = self._of_master("master", values)
        names: list[Any] = []
        for row in zip(*columns.values(), strict=True):
            at, *own = row
            tap = Tap(at, tuple(self._derivations(dict(zip([*columns][1:], own, strict=True)))))
            devices = [device for each in tap.derivations for device in each.devices]
            names += [device.name for device in devices]
            yield _with_master(tap, master)
        if master is not None and master not in names:
            raise definition_error(
                self.alone["master"].place,
                f"no device at the taps is called {master!r}, so it cannot be the master.",
                nearest(str(master), map(str, names)),
            )

    def _derivations(self, row: dict[str, Any]) -> Iterator[Derivation]:
        """The derivations of a tap: one, or as many as its lists are long."""
        several = isinstance(row["derivation"], list | tuple)
        count = len(row["derivation"]) if several else 1
        for name, value in row.items():
            here = isinstance(value, list | tuple)
            if here != several and not (value is None or (name in _OWN and not here)):
                self._refuse(name, count)
            if here and len(value) != count:
                self._refuse(name, count)
        for at in range(count):
            each = {
                name: value[at] if isinstance(value, list | tuple) else value
                for name, value in row.items()
            }
            own = {_OWN[name]: each[name] for name in _OWN if each.get(name) is not None}
            device = Device(each["device"], each.get("address"), **own)
            yield Derivation(each["derivation"], (device,))

    def _refuse(self, name: str, count: int) -> None:
        raise definition_error(
            self.taps[name].place,
            f"a tap with {count} derivation{'s' * (count != 1)} needs as many of '{name}'.",
            "Write, for instance, derivation [3, 5] and device ['a', 'b'].",
        )

    def draw(self, network: Network, *, narrow: bool = False) -> str:
        """The line as SVG, as it is planned, without what the lab leaves out."""
        return draw_line(network, leave_out=self.left_out, width=NARROW if narrow else WIDTH)

    def draw_for_paper(self, network: Network) -> tuple[str, ...]:
        """The same in rows, each an SVG, with letters that can be read on paper."""
        return draw_in_bands(network, leave_out=self.left_out)

    def facts(self, network: Network) -> str:
        """Rate, characters, trunk and devices in one line."""
        rate = "" if "rate" in self.left_out else f"{network.bit_rate:g} bit/s "
        count = len(network.devices)
        return f"{rate}{network.form.text}, trunk {network.length:g} m, {count} devices"


_CABLE: Final = {"section": "section_mm2", "ohms": "ohm_per_km"}
_OWN: Final = {"load": "unit_loads", "response": "response_ms"}
"""What may be the same for all devices of a tap."""
_TERMINATOR: Final = {"ohms": "ohm", "capacitor": "nanofarad"}
_POLARIZATION: Final = {"up": "pull_up_ohm", "down": "pull_down_ohm", "volts": "volt"}


def _renamed(row: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    return {names[name]: value for name, value in row.items()}


def _with_master(tap: Tap, master: Any) -> Tap:
    def of(device: Device) -> Device:
        return replace(device, master=True) if device.name == master else device

    derivations = tuple(
        replace(each, devices=tuple(of(device) for device in each.devices))
        for each in tap.derivations
    )
    return replace(tap, derivations=derivations)


def _listed(formula: Formula, values: Names) -> list[Any]:
    """What a formula gives, as a list: one place may stand alone."""
    found = formula.evaluate(values)
    return list(found) if isinstance(found, list | tuple) else [found]


def _list(formula: Formula, values: Names) -> list[Any]:
    found = formula.evaluate(values)
    if not isinstance(found, list | tuple):
        raise definition_error(formula.place, f"'{formula.text}' does not give a list.")
    return list(found)
