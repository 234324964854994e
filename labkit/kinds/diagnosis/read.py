"""Reading the kind `diagnosis`: one of several faults hidden in the scenario's network."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any

from pydantic import Field

from labkit.bench.bench import Bench
from labkit.bench.codec import to_json
from labkit.bench.faults import Fault
from labkit.bench.fuses import blowing
from labkit.bench.recording import ReadWhenAsked, record
from labkit.bench.setup import Setup
from labkit.bench.situation import Situation
from labkit.doors.family import BenchReading, DeviceOnBench
from labkit.doors.installed import bench_reading_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.read_faults import fault_named, faults_listed
from labkit.kinds.diagnosis.data import DiagnosisAsk, DiagnosisKey
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Formula, Prose, Value
from labkit.language.problems import Place, definition_error, nearest
from labkit.language.stream import Stream

_Equipped = tuple[Prose, Formula, Formula, str, Formula | None, bool, bool]
_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class EquipmentFields(Strict):
    """What a device is: the formula of its name, its I/O sizes in bytes, its connection."""

    device: Text = Field(description="Its name; formulas stand in {{ }}.")
    input_bytes: str = Field(default="1", description="A formula.")
    output_bytes: str = Field(default="0", description="A formula.")
    connection: str = Field(default="poll", description="How it is connected to the scanner.")
    product: str | None = Field(
        default=None,
        description="A formula that gives the numbers of its product, which the scanner compares.",
    )
    follows_rate: bool = Field(
        default=False, description="It has no rate switch and takes the rate that it hears."
    )
    address_by_message: bool = Field(
        default=False, description="It has no address switches and is told its address."
    )


class SizesFields(Strict):
    """I/O sizes in bytes, as formulas, of every device that `equipment` does not name."""

    input_bytes: str = Field(default="1", description="A formula.")
    output_bytes: str = Field(default="0", description="A formula.")


class SharesFields(Strict):
    """Shares of the marks; together they are 1."""

    fault: _Share = Field(default=0.4, description="What the kind of fault earns.")
    place: _Share = Field(default=0.4, description="What its place earns.")
    repair: _Share = Field(default=0.2, description="What the repair earns.")


class DiagnosisFields(ExerciseFields):
    """`cases` are lists of faults: one case is drawn. Fields of a fault are prose with formulas.

    Instead of `cases`, `faults` may be a formula that gives the list of faults, so that prose can
    compute with the very faults that are in the bench. Without `live_plugs` the bench lets nobody
    pull a connector, or put one back, under power; with `outputs` they can be commanded and looked
    at there.
    """

    cases: list[list[dict[str, Text]]] = Field(
        default_factory=list,
        description="Lists of faults, of which one is drawn, each behind '- - ': - - {kind: "
        "terminator missing, end: left end}",
    )
    faults: Text | None = Field(
        default=None, description="In place of cases, a formula that gives the list of faults."
    )
    scanner: Text = Field(description="Which device scans; formulas stand in {{ }}.")
    plan: str = Field(
        default="network", description="A formula that gives the network; network is the lab's own."
    )
    equipment: list[EquipmentFields] = Field(
        default_factory=list, description="Devices whose I/O sizes are their own."
    )
    usual_sizes: SizesFields = Field(
        default=SizesFields(), description="I/O sizes of all other devices, in bytes."
    )
    power: bool = Field(default=False, description="The bench stands under power at the start.")
    live_plugs: bool = Field(
        default=True, description="Plugs may be pulled and put back under power."
    )
    outputs: bool = Field(default=False, description="Outputs are commanded and looked at.")
    tap_fuse: Annotated[float, Field(ge=0, le=100)] = Field(
        default=0.0, description="A of the fuse that each drop has at its tap; none if left out."
    )
    sections: bool = Field(
        default=False, description="Plus can be joined and broken between several supplies."
    )
    budget: Annotated[float, Field(gt=0, le=10_000)] = Field(
        default=60, description="Minutes on the clock; the trainee may go on afterwards."
    )
    names: Annotated[int, Field(ge=1, le=4)] = Field(
        default=1, description="How many faults may be named; of several each earns its part."
    )
    costs: dict[str, Annotated[float, Field(ge=0, le=10_000)]] = Field(
        default_factory=dict,
        description="Minutes of a step, where yours differ, a line each: look: 5",
    )
    shares: SharesFields = Field(
        default=SharesFields(), description="Shares of the marks; together they are 1."
    )


class DiagnosisReader:
    """Reads a `diagnosis` exercise."""

    fields = DiagnosisFields

    def read(self, fields: DiagnosisFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        family = reader.of_family(bench_reading_for)
        plan = reader.formula(fields.plan, "plan")
        scanner = reader.prose(fields.scanner, "scanner")
        equipment = [_equipment(item, family, reader, n) for n, item in enumerate(fields.equipment)]
        usual = (
            reader.formula(fields.usual_sizes.input_bytes, "usual_sizes", "input_bytes"),
            reader.formula(fields.usual_sizes.output_bytes, "usual_sizes", "output_bytes"),
        )
        cases = [
            [_fault(spec, family, reader, n, k) for k, spec in enumerate(case)]
            for n, case in enumerate(fields.cases)
        ]
        listed = None if fields.faults is None else reader.formula(fields.faults, "faults")
        _check(fields, family, reader)
        start = Situation(power=fields.power)
        place = reader.place("cases" if listed is None else "faults")

        def hidden(values: Mapping[str, Value], setup: Setup, stream: Stream) -> list[Fault]:
            if listed is None:
                return [make(values, setup) for make in cases[stream.below(len(cases))]]
            return faults_listed(listed, values, family, setup, place)

        def prepare(values: Mapping[str, Value], stream: Stream) -> Prepared:
            try:
                network = plan.evaluate(values)
                known = family.device_names(network)
                named = [item[0] for item in equipment]
                _require_devices(known, scanner, named, values, reader)
                inputs, outputs = (int(size.number(values)) for size in usual)
                asks = scanner.render(values)
                setup = family.setup(
                    network,
                    asks,
                    [_on_bench(*item, values) for item in equipment],
                    (inputs, outputs),
                    live_plugs=fields.live_plugs,
                    outputs=fields.outputs,
                    tap_fuse=fields.tap_fuse,
                    sections=fields.sections,
                )
                _require_asker(asks, setup, reader)
                faults = hidden(values, setup, stream)
                if 1 < fields.names < len(faults):
                    told = f"has {len(faults)} faults, and 'names' lets {fields.names} be named."
                    raise PlanError(f"The bench {told}")
                bench = Bench(setup, frozenset(faults), start)
                _require_fuses_as_they_blow(bench)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            ask: DiagnosisAsk = {
                "setup": setup.to_json(),
                "power": fields.power,
                "budget": fields.budget,
                "costs": fields.costs,
                "repairs": fields.shares.repair > 0,
            }
            if fields.names > 1:
                ask["names"] = fields.names
            key: DiagnosisKey = {
                "faults": [to_json(fault) for fault in faults],
                "shares": {
                    "fault": fields.shares.fault,
                    "place": fields.shares.place,
                    "repair": fields.shares.repair,
                },
            }
            return Prepared(
                ask,
                key,
                assessed=lambda: {"recording": record(bench)},
                when_asked=lambda: {"recording": ReadWhenAsked(bench)},
            )

        return prepare


def _require_fuses_as_they_blow(bench: Bench) -> None:
    """What blows a fuse has blown it: the bench had power before anybody came."""
    for fault in blowing(bench.standing(Situation(power=True))):
        raise PlanError(
            f"What is wrong here has blown a fuse, which the faults do not say. Add to them: "
            f"{{kind: {fault.kind}, connector: '{fault.place}'}}."
        )


def _check(fields: DiagnosisFields, family: BenchReading, reader: FieldReader) -> None:
    shares = fields.shares
    if abs(shares.fault + shares.place + shares.repair - 1) > 1e-9:
        raise reader.error("do not come to 1 together.", "Change one of them.", "shares")
    for name in fields.costs:
        if name not in family.costs:
            mend = nearest(name, family.costs)
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
    item: EquipmentFields, family: BenchReading, reader: FieldReader, number: int
) -> _Equipped:
    try:
        family.require_connection(item.connection)
    except PlanError as error:
        raise reader.error(str(error), "", "equipment", number, "connection") from error
    return (
        reader.prose(item.device, "equipment", number, "device"),
        reader.formula(item.input_bytes, "equipment", number, "input_bytes"),
        reader.formula(item.output_bytes, "equipment", number, "output_bytes"),
        item.connection,
        None
        if item.product is None
        else reader.formula(item.product, "equipment", number, "product"),
        item.follows_rate,
        item.address_by_message,
    )


def _on_bench(
    device: Prose,
    produced: Formula,
    consumed: Formula,
    connection: str,
    product: Formula | None,
    follows_rate: bool,
    by_message: bool,
    values: Mapping[str, Value],
) -> DeviceOnBench:
    sizes = int(produced.number(values)), int(consumed.number(values))
    numbers = () if product is None else _product(product, values)
    return DeviceOnBench(
        device.render(values), *sizes, connection, numbers, follows_rate, by_message
    )


def _product(product: Formula, values: Mapping[str, Value]) -> tuple[int, ...]:
    found = product.evaluate(values)
    if not isinstance(found, list | tuple) or any(type(each) is not int for each in found):
        raise definition_error(
            product.place,
            f"'{product.text}' gives no list of whole numbers.",
            "Write the numbers of the product, such as '[412, 7, 23]'.",
        )
    return tuple(found)


def _require_devices(
    known: list[str] | None,
    scanner: Prose,
    equipment: list[Prose],
    values: Mapping[str, Value],
    reader: FieldReader,
) -> None:
    """Every device that the exercise names must be in the plan."""
    if known is None:
        return
    named: list[tuple[Prose, tuple[str | int, ...]]] = [(scanner, ("scanner",))]
    named += [(item, ("equipment", n, "device")) for n, item in enumerate(equipment)]
    for prose, at in named:
        name = prose.render(values)
        if name not in known:
            message = f"There is no device '{name}' in the plan."
            raise definition_error(reader.place(*at), message, nearest(name, known))


def _require_asker(name: str, setup: Setup, reader: FieldReader) -> None:
    """A family whose plan says who asks the others takes nobody else."""
    if name != setup.scanner:
        what = setup.names.scanner
        raise reader.error(
            f"names '{name}', but in the network '{setup.scanner}' is {what}.",
            f"Write {setup.scanner} here, or change it in the network.",
            "scanner",
        )


def _fault(
    spec: Mapping[str, str], family: BenchReading, reader: FieldReader, case: int, number: int
) -> Callable[[Mapping[str, Value], Setup], Fault]:
    at = ("cases", case, number)
    kind = _kind(spec, family, reader, *at)
    texts = {n: reader.prose(t, *at, n) for n, t in spec.items() if n != "kind"}
    places = {name: reader.place(*at, name) for name in texts}
    place = reader.place(*at)

    def make(values: Mapping[str, Value], setup: Setup) -> Fault:
        fields = {n: _value(family, n, text.render(values), places[n]) for n, text in texts.items()}
        return fault_named({"kind": kind, **fields}, family, setup, place, places)

    return make


def _kind(
    spec: Mapping[str, str], family: BenchReading, reader: FieldReader, *at: str | int
) -> str:
    """The kind of a fault, once its fields are those of that kind."""
    if "kind" not in spec:
        raise reader.error("does not say what kind of fault it is.", "Add 'kind:'.", *at)
    kind = spec["kind"]
    if kind not in family.fault_kinds:
        mend = nearest(kind, family.fault_kinds)
        raise reader.error(f"'{kind}' is no kind of fault.", mend, *at, "kind")
    known = family.fields_of(kind)
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


def _value(family: BenchReading, name: str, text: str, place: Place) -> Any:
    try:
        return family.value(name, text)
    except ValueError as error:
        raise definition_error(place, f"'{text}' in '{name}' is not a number.") from error
