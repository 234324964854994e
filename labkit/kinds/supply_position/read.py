"""Reading the kind `supply_position`: where one supply stands on the trunk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from labkit.doors.prepared import Prepared, Preparer
from labkit.families.devicenet.supply_stretches import stretches
from labkit.fieldbus.devicenet.network import Network
from labkit.kinds.supply_position.check import PlanData
from labkit.kinds.supply_position.data import SupplyAsk
from labkit.lab.reading.field_reader import FieldReader
from labkit.lab.reading.fields import ExerciseFields
from labkit.language.expression import Value
from labkit.language.problems import definition_error
from labkit.language.stream import Stream


class SupplyPositionFields(ExerciseFields):
    """`plan` gives the network; left out, it is the lab's own."""

    plan: str = "network"


class SupplyPositionReader:
    """Reads a `supply_position` exercise."""

    fields = SupplyPositionFields

    def read(self, fields: SupplyPositionFields, reader: FieldReader) -> Preparer:
        """The preparer of this exercise."""
        plan = reader.formula(fields.plan, "plan")

        def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
            network = plan.evaluate(values)
            if not isinstance(network, Network):
                raise definition_error(plan.place, f"'{plan.text}' does not give a network.")
            if not stretches(network):
                raise definition_error(
                    plan.place,
                    "no position of one supply keeps the rules in this scenario.",
                    "Add 'supply_room(network) > 0' to 'valid:'.",
                )
            bare = replace(network, supplies=()) if network.supplies else network
            ask: SupplyAsk = {"network": PlanData(bare)}
            return Prepared(ask, {})

        return prepare
