"""Reading the kind `diagnosis`: one of several faults hidden in the scenario's network."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import Fault
from labkit.bench.recording import record
from labkit.bench.situation import Situation
from labkit.doors.prepared import Prepared, Preparer
from labkit.families.devicenet.bench.catalogue import COSTS
from labkit.families.devicenet.bench.equipment import Equipment, connection_kind
from labkit.families.devicenet.bench.setup import Setup
from labkit.families.devicenet.bench_faults import FAULT_KINDS, fault_of, fields_of, no_such
from labkit.families.devicenet.node_addresses import addressed
from labkit.fieldbus.devicenet.network import Network
from labkit.fieldbus.errors import PlanError
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import Place, definition_error, nearest
from labkit.language.stream import Stream

WHOLE = ("address", "rate", "input_bytes", "output_bytes", "entry")
NUMBERS = ("ohm", "ampere", "metres", "every_s", "open_s")
_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class EquipmentFields(Strict):
    """What a device is: the formula of its name, its I/O sizes in bytes, its connection."""

    device: Text
    input_bytes: str = "1"
    output_bytes: str = "0"
    connection: str = "poll"


class SizesFields(Strict):
    """I/O sizes in bytes, as formulas, of every device that `equipment` does not name."""

    input_bytes: str = "1"
    output_bytes: str = "0"


class SharesFields(Strict):
    """Shares of the marks; together they are 1."""

    fault: _Share = 0.4
    place: _Share = 0.4
    repair: _Share = 0.2


class DiagnosisFields(ExerciseFields):
    """`cases` are lists of faults: one case is drawn. Fields of a fault are prose with formulas.

    Instead of `cases`, `faults` may be a formula that gives the list of faults, so that prose can
    compute with the very faults that are in the bench. Without `live_plugs` the bench lets nobody
    pull a connector, or put one back, under power.
    """

    cases: list[list[dict[str, Text]]] = Field(default_factory=list)
    faults: Text | None = None
    scanner: Text
    plan: str = "network"
    equipment: list[EquipmentFields] = Field(default_factory=list)
    usual_sizes: SizesFields = SizesFields()
    power: bool = False
    live_plugs: bool = True
    budget: Annotated[float, Field(gt=0, le=10_000)] = 60
    costs: dict[str, Annotated[float, Field(ge=0, le=10_000)]] = Field(default_factory=dict)
    shares: SharesFields = SharesFields()


class DiagnosisReader:
    """Reads a `diagnosis` exercise."""

    fields = DiagnosisFields

    def read(self, fields: DiagnosisFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        plan = reader.formula(fields.plan, "plan")
        scanner = reader.prose(fields.scanner, "scanner")
        equipment = [_equipment(item, reader, n) for n, item in enumerate(fields.equipment)]
        usual = (
            reader.formula(fields.usual_sizes.input_bytes, "usual_sizes", "input_bytes"),
            reader.formula(fields.usual_sizes.output_bytes, "usual_sizes", "output_bytes"),
        )
        cases = [
            [_fault(spec, reader, n, k) for k, spec in enumerate(case)]
            for n, case in enumerate(fields.cases)
        ]
        listed = None if fields.faults is None else reader.formula(fields.faults, "faults")
        _check(fields, reader)
        start = Situation(power=fields.power)
        place = reader.place("cases" if listed is None else "faults")

        def hidden(values: Mapping[str, Value], setup: Setup, stream: Stream) -> list[Fault]:
            if listed is None:
                return [make(values, setup) for make in cases[stream.below(len(cases))]]
            found = listed.evaluate(values)
            if not isinstance(found, list | tuple) or not found:
                raise definition_error(place, f"'{listed.text}' does not give a list of faults.")
            return [_made(each, setup, place) for each in found]

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            try:
                network = plan.evaluate(values)
                _require_devices(network, scanner, [item[0] for item in equipment], values, reader)
                setup = _setup(network, scanner.render(values), equipment, usual, values)
                setup = replace(setup, live_plugs=fields.live_plugs)
                faults = hidden(values, setup, stream)
                bench = Bench(setup, frozenset(faults), start)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            ask: DiagnosisAsk = {
                "setup": setup.to_json(),
                "power": fields.power,
                "budget": fields.budget,
                "costs": fields.costs,
                "repairs": fields.shares.repair > 0,
            }
            key: DiagnosisKey = {
                "faults": [to_json(fault) for fault in faults],
                "shares": {
                    "fault": fields.shares.fault,
                    "place": fields.shares.place,
                    "repair": fields.shares.repair,
                },
            }
            return Prepared(ask, key, assessed=lambda: {"recording": record(bench)})

        return prepare


def _check(fields: DiagnosisFields, reader: FieldReader) -> None:
    shares = fields.shares
    if abs(shares.fault + shares.place + shares.repair - 1) > 1e-9:
        raise reader.error("do not come to 1 together.", "Change one of them.", "shares")
    for name in fields.costs:
        if name not in COSTS:
            mend = nearest(name, COSTS)
            raise reader.error(f"'{name}' is no step at the bench.", mend, "costs", name)
    if bool(fields.cases) == (fields.faults is not None):
        raise reader.error(
            "says where the faults come from; exactly one of 'cases' and 'faults' is needed.",
            "Write 'cases:' with a list of faults for each, or 'faults:' with a formula.",
            "cases",
        )
    for number, case in enumerate(fields.cases):
        if not case:
            raise reader.error("has no fault.", "Name at least one fault.", "cases", number)


def _equipment(
    item: EquipmentFields, reader: FieldReader, number: int
) -> tuple[Prose, Formula, Formula, str]:
    try:
        connection_kind(item.connection)
    except PlanError as error:
        raise reader.error(str(error), "", "equipment", number, "connection") from error
    return (
        reader.prose(item.device, "equipment", number, "device"),
        reader.formula(item.input_bytes, "equipment", number, "input_bytes"),
        reader.formula(item.output_bytes, "equipment", number, "output_bytes"),
        item.connection,
    )


def _require_devices(
    plan: Any,
    scanner: Prose,
    equipment: list[Prose],
    values: Mapping[str, Value],
    reader: FieldReader,
) -> None:
    """Every device that the exercise names must be in the plan."""
    if not isinstance(plan, Network):
        return
    known = [device.name for device in plan.devices]
    named: list[tuple[Prose, tuple[str | int, ...]]] = [(scanner, ("scanner",))]
    named += [(item, ("equipment", n, "device")) for n, item in enumerate(equipment)]
    for prose, at in named:
        name = prose.render(values)
        if name not in known:
            message = f"There is no device '{name}' in the plan."
            raise definition_error(reader.place(*at), message, nearest(name, known))


def _setup(
    plan: Any,
    scanner: str,
    equipment: list[tuple[Prose, Formula, Formula, str]],
    usual: tuple[Formula, Formula],
    values: Mapping[str, Value],
) -> Setup:
    if not isinstance(plan, Network):
        raise PlanError("'plan' does not give a network.")
    inputs, outputs = (int(size.number(values)) for size in usual)
    # The identity that a set-up gives to a device of which nothing is said.
    bare = Setup(addressed(plan), scanner).equipment
    found = {
        name: replace(made, input_bytes=inputs, output_bytes=outputs) for name, made in bare.items()
    }
    for number, (device, produced, consumed, connection) in enumerate(equipment):
        found[device.render(values)] = Equipment(
            vendor=900,
            serial=50_000 + number,
            input_bytes=int(produced.number(values)),
            output_bytes=int(consumed.number(values)),
            kind=connection_kind(connection),
        )
    return Setup(addressed(plan), scanner, found)


def _fault(
    spec: Mapping[str, str], reader: FieldReader, case: int, number: int
) -> Callable[[Mapping[str, Value], Setup], Fault]:
    at = ("cases", case, number)
    kind = _kind(spec, reader, *at)
    texts = {n: reader.prose(t, *at, n) for n, t in spec.items() if n != "kind"}
    places = {name: reader.place(*at, name) for name in texts}
    place = reader.place(*at)

    def make(values: Mapping[str, Value], setup: Setup) -> Fault:
        fields = {n: _value(n, text.render(values), places[n]) for n, text in texts.items()}
        return _made({"kind": kind, **fields}, setup, place, places)

    return make


def _kind(spec: Mapping[str, str], reader: FieldReader, *at: str | int) -> str:
    """The kind of a fault, once its fields are those of that kind."""
    if "kind" not in spec:
        raise reader.error("does not say what kind of fault it is.", "Add 'kind:'.", *at)
    kind = spec["kind"]
    if kind not in FAULT_KINDS:
        mend = nearest(kind, FAULT_KINDS)
        raise reader.error(f"'{kind}' is no kind of fault.", mend, *at, "kind")
    known = fields_of(kind)
    for name in spec:
        if name != "kind" and name not in known:
            message = f"'{name}' is no field of the fault '{kind}'."
            raise reader.error(message, nearest(name, known), *at, name)
    for name, needed in known.items():
        if needed and name not in spec:
            raise reader.error(
                f"names the fault '{kind}' without '{name}'.", f"Add '{name}:'.", *at
            )
    return kind


def _made(
    fields: object, setup: Setup, place: Place, places: Mapping[str, Place] | None = None
) -> Fault:
    if not isinstance(fields, Mapping):
        raise definition_error(
            place, f"{fields!r} is no fault.", 'Write {"kind": …} with its fields.'
        )
    astray = no_such(fields, setup)
    if astray:
        name, known = astray
        said = f"{fields[name]!r} in '{name}' is not on this bench."
        there = (places or {}).get(name, place)
        raise definition_error(there, said, nearest(str(fields[name]), known))
    try:
        return fault_of(fields, setup)
    except PlanError as error:
        raise definition_error(place, str(error)) from error


def _value(name: str, text: str, place: Place) -> Any:
    try:
        if name in WHOLE:
            return int(text)
        if name in NUMBERS:
            return float(text)
        if name == "terminals":
            return [int(part) for part in text.split(",")]
    except ValueError as error:
        raise definition_error(place, f"'{text}' in '{name}' is not a number.") from error
    return text
