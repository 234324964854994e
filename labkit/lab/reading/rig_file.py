"""The file of a training rig: a header like a lab's, and below it the rules of the room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields as fields_of
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final

from pydantic import Field

from labkit.bench.rig.by_hand import WIRED, reachable, usual_places
from labkit.bench.rig.parts import Between, Parts
from labkit.bench.rig.spans import Meter
from labkit.bench.setup import Setup
from labkit.doors import installed
from labkit.doors.installed import NotOfferedError
from labkit.doors.rig import SCANNER, FamilyRig
from labkit.fieldbus.errors import PlanError
from labkit.lab.reading.definition_file import definition_bytes, shown_name
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import Strict, Text, check_fields
from labkit.lab.reading.source import BlockPart, Fields, Source, read_source
from labkit.lab.rig import INSTRUMENTS, Rig
from labkit.language.expression import Language
from labkit.language.number import QuantityError
from labkit.language.problems import Place, definition_error, nearest
from labkit.language.quantity import UNITS, read_quantity

ON_THE_RIG: Final = "said on the rig's file"
"""Where a tolerance is from that a trainer wrote down."""
_MOST_SHARE: Final = 10.0


class ByHandFields(Strict):
    """`by hand:` — kinds of faults, and the devices, taps, connectors or ends that are reached."""

    faults: Annotated[list[str], Field(min_length=1)] | None = None
    places: Annotated[list[str], Field(min_length=1)] | None = None


class ToleranceFields(Strict):
    """`tolerances:` — "1 %" on either side, or "30 % to 110 %" of what is planned."""

    terminators: Text | None = None
    cable: Text | None = None
    contacts: Text | None = None
    inputs: Text | None = None
    supplies: Text | None = None
    loads: Text | None = None
    bias: Text | None = None


class MeterFields(Strict):
    """`meter:` — its error as a share, and Ω of its leads."""

    ohms: Text | None = None
    leads: Text | None = None
    volts: Text | None = None


class RigFields(Strict):
    """The header of a rig's file."""

    title: Text
    network: dict[str, Any]
    scanner: Text
    by_hand: ByHandFields = Field(default=ByHandFields(), alias="by hand")
    instruments: Annotated[list[str], Field(min_length=1)] = Field(
        default_factory=lambda: [*INSTRUMENTS]
    )
    unplug: bool = True
    tolerances: ToleranceFields = ToleranceFields()
    meter: MeterFields = MeterFields()


def read_rig(path: Path) -> Rig:
    """Read the file of a rig. Raises `DefinitionError`: every mistake with its line and a mend."""
    file = shown_name(path)
    try:
        text = definition_bytes(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise definition_error(
            Place(file, 1),
            "this file is not text that labkit can read.",
            "Save it as UTF-8: your editor asks for the encoding under 'Save as'.",
        ) from error
    return rig_of(text, file)


def rig_of(text: str, file: str) -> Rig:
    """The rig that a text describes; as `read_rig` otherwise."""
    if not text.startswith("---"):
        raise definition_error(
            Place(file, 1),
            "the header is missing.",
            "Start the file with a line '---', then title, network and scanner, then a line '---'.",
        )
    source = read_source(text, file)
    header: RigFields = check_fields(RigFields, source.header)
    name = _family(header, source.header)
    reader = FieldReader(
        source.header, Language(dict(installed.network_for(name).functions)), frozenset()
    )
    recipe = installed.network_for(name).recipe(header.network, reader)
    network = recipe.build(dict(reader.language.functions))
    setup = _setup(name, network, header, source.header)
    own = installed.rig_for(name)
    rig = Rig(
        title=header.title,
        text=text,
        family=name,
        recipe=recipe,
        network=network,
        setup=setup,
        kinds=_kinds(header.by_hand, own, source.header),
        places=_places(header.by_hand, setup, source.header),
        instruments=_instruments(header.instruments, source.header),
        unplug=header.unplug,
        parts=_parts(header.tolerances, own.parts, source.header),
        meter=_meter(header.meter, source.header),
        rules=_rules(source),
        own=own,
    )
    _require_working(rig, source.header)
    return rig


def _require_working(rig: Rig, fields: Fields) -> None:
    """As described, and without a fault, whoever asks the others must have all their answers."""
    right, *_ = rig.own.words.get(SCANNER, ("",))
    said = rig.deck.said(None).items()
    missing = ", ".join(at for (by, at), word in said if by == SCANNER and word != right)
    if missing:
        raise definition_error(
            fields.place(("network",)),
            f"as it is described here, {rig.setup.names.scanner} gets no answer from {missing}, "
            "without any fault.",
            "Look at data rate, addresses, currents and terminators.",
        )


def _family(header: RigFields, fields: Fields) -> str:
    """The network family, which must have a bench."""
    name, place = header.network.get("family"), fields.place(("network", "family"))
    families = installed.families()
    if not isinstance(name, str) or name not in families:
        raise definition_error(
            place,
            f"'{name}' is not a network family." if name else "is missing.",
            nearest(str(name or ""), families),
        )
    try:
        installed.bench_reading_for(name)
    except NotOfferedError as error:
        raise definition_error(
            place,
            f"the family '{name}' has no virtual bench, so nothing can be calculated of a rig.",
            "Choose a family that has one.",
        ) from error
    return name


def _setup(name: str, network: Any, header: RigFields, fields: Fields) -> Setup:
    family = installed.bench_reading_for(name)
    known = family.device_names(network) or []
    if header.scanner not in known:
        raise definition_error(
            fields.place(("scanner",)),
            f"there is no device '{header.scanner}' on this rig.",
            nearest(header.scanner, known),
        )
    try:
        setup = family.setup(network, header.scanner)
    except PlanError as error:
        raise definition_error(fields.place(("network",)), str(error)) from error
    if not setup.layout.cabling.keeps_lengths(setup.plan):
        raise definition_error(
            fields.place(("network",)),
            "trunk or drops are longer than its family allows at this data rate: such a rig may "
            "fail without any fault.",
            "Look at lengths and data rate.",
        )
    if setup.scanner != header.scanner:
        raise definition_error(
            fields.place(("scanner",)),
            f"in the network '{setup.scanner}' is {setup.names.scanner}.",
            f"Write {setup.scanner} here, or change it in the network.",
        )
    return setup


def _kinds(by_hand: ByHandFields, own: FamilyRig, fields: Fields) -> tuple[str, ...]:
    known = (*WIRED, *own.kinds)
    chosen = known if by_hand.faults is None else tuple(by_hand.faults)
    for number, kind in enumerate(chosen):
        if kind not in known:
            raise definition_error(
                fields.place(("by hand", "faults", number)),
                f"'{kind}' is nothing that a hand may put into this rig.",
                nearest(kind, known),
            )
    return chosen


def _instruments(written: list[str], fields: Fields) -> tuple[str, ...]:
    for number, name in enumerate(written):
        if name not in INSTRUMENTS:
            raise definition_error(
                fields.place(("instruments", number)),
                f"'{name}' is no instrument that cards know.",
                nearest(name, INSTRUMENTS),
            )
    return tuple(dict.fromkeys(written))


def _places(by_hand: ByHandFields, setup: Setup, fields: Fields) -> tuple[str, ...]:
    """The connectors that are reached; a tap's name stands for all of its own."""
    layout = setup.layout
    if by_hand.places is None:
        return tuple(usual_places(layout))
    allowed = reachable(layout)
    found: list[str] = []
    for number, place in enumerate(by_hand.places):
        here = [c for c in allowed if c == place or layout.connectors[c].socket == place]
        if not here:
            feeding = place in layout.connectors or place in {
                c.socket for c in layout.connectors.values()
            }
            raise definition_error(
                fields.place(("by hand", "places", number)),
                f"'{place}' belongs to a supply: nothing is put in there."
                if feeding
                else f"there is no place '{place}' on this rig.",
                "Take it out of the list." if feeding else nearest(place, _names(setup)),
            )
        found += here
    return tuple(dict.fromkeys(found))


def _names(setup: Setup) -> Iterable[str]:
    connectors = setup.layout.connectors
    allowed = reachable(setup.layout)
    return {*allowed, *(connectors[name].socket for name in allowed)}


def _parts(written: ToleranceFields, usual: Parts, fields: Fields) -> Parts:
    found = usual
    for item in fields_of(Parts):
        text = getattr(written, item.name)
        if text is not None:
            between = _between(text, fields, ("tolerances", item.name))
            found = replace(found, **{item.name: between})
    return found


def _between(text: str, fields: Fields, path: tuple[str, ...]) -> Between:
    low, to, high = text.partition(" to ")
    first = _share(low, fields, path)
    if not to:
        if first >= 1:
            raise definition_error(
                fields.place(path),
                f"'{text}' on either side would reach down to nothing.",
                "Write less than 100 %, or both ends: 30 % to 110 %.",
            )
        return Between.within(first, ON_THE_RIG)
    last = _share(high, fields, path)
    if not 0 < first <= last:
        raise definition_error(
            fields.place(path),
            f"'{text}' does not go upwards from above 0.",
            "Write the smaller share first: 30 % to 110 %.",
        )
    return Between(first, last, ON_THE_RIG)


def _share(text: str, fields: Fields, path: tuple[str, ...]) -> float:
    try:
        share = float(read_quantity(text, UNITS["%"]).value) / 100
    except QuantityError as error:
        raise definition_error(
            fields.place(path), f"'{text.strip()}' is no share. {error}", "Write it as 1 %."
        ) from error
    if not 0 <= share <= _MOST_SHARE:
        raise definition_error(
            fields.place(path), f"'{text.strip()}' is out of all measure.", "Write it as 1 %."
        )
    return share


def _meter(written: MeterFields, fields: Fields) -> Meter:
    found = Meter()
    shares = {"ohms": "ohm_share", "volts": "volt_share"}
    for name, field in shares.items():
        text = getattr(written, name)
        if text is not None:
            found = replace(found, **{field: _share(text, fields, ("meter", name))})
    if written.leads is not None:
        place = fields.place(("meter", "leads"))
        try:
            leads = read_quantity(written.leads, UNITS["Ω"]).to(UNITS["Ω"])
        except QuantityError as error:
            raise definition_error(place, str(error), "Write it as 0.5 Ω.") from error
        if not 0 <= leads <= 5:
            raise definition_error(
                place, f"leads of {leads:g} Ω measure nothing.", "Write 0 to 5 Ω."
            )
        found = replace(found, ohm_more=leads)
    return found


def _rules(source: Source) -> str:
    for part in source.parts:
        if isinstance(part, BlockPart):
            raise definition_error(
                part.place, "a rig has no exercises.", "Take this block out of the file."
            )
    return "\n\n".join(part.text for part in source.parts if not isinstance(part, BlockPart))
