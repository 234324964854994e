"""Reading the kind `supply_position`: where one supply stands on the trunk."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from labkit.doors.installed import supply_for
from labkit.doors.prepared import Prepared, Preparer
from labkit.kinds.common.of_family import say_family
from labkit.kinds.supply_position.check import PlanData
from labkit.kinds.supply_position.data import SupplyAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class SupplyPositionFields(ExerciseFields):
    """`plan` gives the network; left out, it is the lab's own."""

    plan: str = Field(
        default="network", description="A formula that gives the network; network is the lab's own."
    )


class SupplyPositionReader:
    """Reads a `supply_position` exercise."""

    fields = SupplyPositionFields

    def read(self, fields: SupplyPositionFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        supply = reader.of_family(supply_for)
        plan = reader.formula(fields.plan, "plan")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            trunk = supply.trunk(plan.evaluate(values))
            if trunk is None:
                raise definition_error(plan.place, f"'{plan.text}' does not give a network.")
            if not trunk.stretches():
                raise definition_error(
                    plan.place,
                    "no position of one supply keeps the rules in this scenario.",
                    f"Add '{supply.keeps_room}' to 'valid:'.",
                )
            ask: SupplyAsk = {"network": PlanData(trunk)}
            say_family(ask, reader.family)
            return Prepared(ask, {})

        return prepare
