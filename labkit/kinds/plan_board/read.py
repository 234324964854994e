"""Reading the kind `plan_board`: what is mounted, and the plan that the board has to keep."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from labkit.doors.family import NodeSettings
from labkit.doors.installed import NotOfferedError, nodes_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.chassis import MOST_SLOTS
from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ip.subnet import address_of, network_of
from labkit.kinds.common.byte_areas import whole, whole_of
from labkit.kinds.common.of_family import say_family
from labkit.kinds.plan_board.board_rules import chassis_of, free_address
from labkit.kinds.plan_board.data import (
    EthernetKey,
    Mounted,
    PlanBoardAsk,
    PlanBoardKey,
    ScannerKey,
)
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Id, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class ModuleFields(Strict):
    """A module as its nameplate says, and the slot it is mounted in. Texts are prose."""

    id: Id = Field(description="Small letters, digits and '-'.")
    what: Text = Field(description="What it is; formulas stand in {{ }}.")
    type: Text = Field(description="The type code on its nameplate: invent one.")
    revision: Text = Field(description="As on its nameplate.")
    slot: Text = Field(description="A formula: its slot, from 0.")


class TakenFields(Strict):
    """An address that something else has."""

    address: Text = Field(description="The address; of the scanner's network a formula.")
    by: Text = Field(description="Who has it.")


class EthernetFields(Strict):
    """The plan of the Ethernet side: addresses as prose, such as 192.168.{{ n }}.0/24."""

    subnet: Text = Field(description="Such as 192.168.{{ n }}.0/24.")
    taken: list[TakenFields] = Field(
        default_factory=list, description="Addresses that something else has."
    )
    temporary: Text | None = Field(default=None, description="The address of commissioning.")


class ScannerFields(Strict):
    """The scanner's network: its rate in kbit/s, node addresses as formulas."""

    rate: Text = Field(description="A formula: 125, 250 or 500.")
    taken: list[TakenFields] = Field(
        default_factory=list, description="Node addresses that something else has."
    )
    free: Text | None = Field(default=None, description="A formula: node addresses to leave free.")


class PlanBoardFields(ExerciseFields):
    """`slots` of the chassis, its `modules`; `ethernet` and `scanner` where the board has them."""

    slots: Text = Field(
        description="A formula: how many slots there are beside the supply, counted from 0."
    )
    modules: list[ModuleFields] = Field(
        min_length=1, max_length=MOST_SLOTS, description="What is mounted."
    )
    ethernet: EthernetFields | None = Field(
        default=None, description="The plan of the Ethernet side."
    )
    scanner: ScannerFields | None = Field(default=None, description="The scanner's network.")


class PlanBoardReader:
    """Reads a `plan_board` exercise."""

    fields = PlanBoardFields

    def read(self, fields: PlanBoardFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        slots = reader.formula(fields.slots, "slots")
        modules = [_ModuleText(item, index, reader) for index, item in enumerate(fields.modules)]
        _check_ids(fields, reader)
        ethernet = _Ethernet(fields.ethernet, reader) if fields.ethernet else None
        scanner = _Scanner(fields.scanner, reader) if fields.scanner else None
        rates = scanner.nodes.rates if scanner else _rates(reader.family)
        place = reader.place("modules")

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            room = whole_of(slots, values, 1, MOST_SLOTS)
            # In a drawn order, so that the list of cards does not tell the slots.
            order = stream.order(len(modules))
            ask: PlanBoardAsk = {
                "slots": room,
                "modules": [modules[number].data(values, room) for number in order],
                "ethernet": ethernet is not None,
                "scanner": scanner is not None,
                "rates": list(rates),
            }
            say_family(ask, reader.family)
            try:
                chassis_of(ask)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            key: PlanBoardKey = {}
            if ethernet:
                key["ethernet"] = ethernet.key(values)
            if scanner:
                key["scanner"] = scanner.key(values)
            return Prepared(ask, key)

        return prepare


class _ModuleText:
    """The texts and the formula of one module."""

    def __init__(self, fields: ModuleFields, index: int, reader: FieldReader) -> None:
        self.id = fields.id
        self.what = reader.prose(fields.what, "modules", index, "what")
        self.type = reader.prose(fields.type, "modules", index, "type")
        self.revision = reader.prose(fields.revision, "modules", index, "revision")
        self.slot = reader.formula(fields.slot, "modules", index, "slot")

    def data(self, values: Mapping[str, Value], slots: int) -> Mounted:
        return {
            "id": self.id,
            "what": self.what.render(values),
            "type": self.type.render(values),
            "revision": self.revision.render(values),
            "slot": whole_of(self.slot, values, 0, slots - 1),
        }


class _Ethernet:
    """The plan of the Ethernet side."""

    def __init__(self, fields: EthernetFields, reader: FieldReader) -> None:
        self.subnet = reader.prose(fields.subnet, "ethernet", "subnet")
        self.temporary = (
            reader.prose(fields.temporary, "ethernet", "temporary") if fields.temporary else None
        )
        self.taken = [
            (
                reader.prose(item.address, "ethernet", "taken", index, "address"),
                reader.prose(item.by, "ethernet", "taken", index, "by"),
            )
            for index, item in enumerate(fields.taken)
        ]

    def key(self, values: Mapping[str, Value]) -> EthernetKey:
        try:
            network = network_of(self.subnet.render(values))
        except PlanError as error:
            raise definition_error(self.subnet.place, str(error)) from error
        if not 1 <= network.prefixlen <= 30:
            raise definition_error(
                self.subnet.place, f"{network} has no room for hosts and their plan."
            )
        key: EthernetKey = {
            "subnet": str(network),
            "taken": {_ip(address, values): by.render(values) for address, by in self.taken},
            "temporary": _ip(self.temporary, values) if self.temporary else None,
        }
        if free_address(key) is None:
            raise definition_error(self.subnet.place, f"no address of {network} is free.")
        return key


class _Scanner:
    """The scanner's network."""

    def __init__(self, fields: ScannerFields, reader: FieldReader) -> None:
        self.nodes: NodeSettings = reader.of_family(nodes_for)
        self.rate = reader.formula(fields.rate, "scanner", "rate")
        self.free = reader.formula(fields.free, "scanner", "free") if fields.free else None
        self.taken = [
            (
                reader.formula(item.address, "scanner", "taken", index, "address"),
                reader.prose(item.by, "scanner", "taken", index, "by"),
            )
            for index, item in enumerate(fields.taken)
        ]

    def key(self, values: Mapping[str, Value]) -> ScannerKey:
        given = self.rate.evaluate(values)
        rate = next((each for each in self.nodes.rates if each == given), None)
        if rate is None:
            *others, last = map(str, self.nodes.rates)
            known = f"{', '.join(others)} or {last}" if others else last
            raise definition_error(
                self.rate.place, f"'{self.rate.text}' gives {given!r:.60}, not {known}."
            )
        allowed = self.nodes.addresses
        taken = {
            str(whole_of(address, values, allowed[0], allowed[-1])): by.render(values)
            for address, by in self.taken
        }
        free = _whole_numbers(self.free, values, allowed) if self.free else []
        if len({*free, *map(int, taken)}) >= len(allowed):
            raise definition_error(self.rate.place, "no node address is left for the scanner.")
        return {"rate": rate, "taken": taken, "free": free}


def _rates(family: str) -> tuple[float, ...]:
    """The data rates of a board without a scanner, which may be of any family."""
    try:
        return nodes_for(family).rates
    except NotOfferedError:
        return ()


def _whole_numbers(formula: Formula, values: Mapping[str, Value], allowed: range) -> list[int]:
    found = formula.evaluate(values)
    items = found if isinstance(found, list | tuple) else [found]
    return [whole(formula, item, allowed[0], allowed[-1]) for item in items]


def _ip(text: Prose, values: Mapping[str, Value]) -> str:
    try:
        return str(address_of(text.render(values)))
    except PlanError as error:
        raise definition_error(text.place, str(error)) from error


def _check_ids(fields: PlanBoardFields, reader: FieldReader) -> None:
    ids = [module.id for module in fields.modules]
    for index, name in enumerate(ids):
        if name in ids[:index]:
            message = f"the module '{name}' is there twice."
            raise reader.error(message, "Give each its own id.", "modules", index, "id")
