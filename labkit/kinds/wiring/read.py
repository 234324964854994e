"""Reading the kind `wiring`: a connector to make up, terminators to fit, a shield to earth."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import Field

from labkit.doors.installed import bench_reading_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.wiring.data import Shares, WiringAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields, Strict, Text
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream

_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


class WiringShares(Strict):
    """Shares of the marks; together they are 1. A part with 0 is not asked for."""

    conductors: _Share = Field(default=0.5, description="What the conductors earn.")
    terminators: _Share = Field(default=0.25, description="What the terminators earn.")
    shield: _Share = Field(default=0.25, description="What the shield earns.")


class WiringFields(ExerciseFields):
    """`device` is prose that names whose connector is made up; `plan` gives the network."""

    device: Text = Field(description="Whose connector is made up; formulas stand in {{ }}.")
    plan: str = Field(
        default="network", description="A formula that gives the network; network is the lab's own."
    )
    shares: WiringShares = Field(
        default=WiringShares(),
        description="Shares of the marks; together they are 1. A part with 0 is not asked for.",
    )


class WiringReader:
    """Reads a `wiring` exercise."""

    fields = WiringFields

    def read(self, fields: WiringFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        family = reader.of_family(bench_reading_for)
        plan = reader.formula(fields.plan, "plan")
        device = reader.prose(fields.device, "device")
        place = reader.place("device")
        shares: Shares = {
            "conductors": fields.shares.conductors,
            "terminators": fields.shares.terminators,
            "shield": fields.shares.shield,
        }
        if abs(shares["conductors"] + shares["terminators"] + shares["shield"] - 1) > 1e-9:
            raise reader.error("do not come to 1 together.", "Change one of them.", "shares")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            network = plan.evaluate(values)
            if family.device_names(network) is None:
                raise definition_error(plan.place, f"'{plan.text}' does not give a network.")
            name = device.render(values)
            try:
                # A meter does not care who scans: the device itself stands in for a scanner.
                setup = family.setup(network, name)
            except PlanError as error:
                raise definition_error(place, str(error)) from error
            ask: WiringAsk = {
                "setup": setup.to_json(),
                "device": name,
                "shares": shares,
            }
            return Prepared(ask, {})

        return prepare
