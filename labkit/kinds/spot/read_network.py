"""Reading the kind `spot` where the picture is the drawing of the lab's network."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from labkit.doors.network import DrawsParts, NetworkPart
from labkit.doors.prepared import Prepared, Preparer
from labkit.fieldbus.errors import PlanError
from labkit.kinds.common.drawn import WIDTHS, picture
from labkit.kinds.common.read_apart import check_ids
from labkit.kinds.spot.data import NetworkAsk
from labkit.kinds.spot.read_fields import SpotFields
from labkit.kinds.spot.read_right import given_by, points_that_can_be_set, right_ones
from labkit.lab.reading.field_reader import FieldReader
from labkit.language.expression import Value
from labkit.language.problems import nearest
from labkit.language.stream import Stream

NETWORK: Final = "network"
"""What is written in the stead of a picture."""


def in_network(fields: SpotFields, reader: FieldReader) -> Preparer:
    """The preparer of an exercise whose places are the parts of the network of a draw."""
    recipe = _recipe(reader)
    _refuse_of_picture(fields, reader)
    kinds = _kinds(fields, recipe, reader)
    network = reader.formula(NETWORK, "picture")
    answer = reader.formula(fields.answer, "answer")
    points = reader.formula(fields.points, "points") if fields.points is not None else None
    check_ids([slip.id for slip in fields.slips], "slip", reader, "slips")
    slips = [
        (
            slip.id,
            reader.formula(slip.answer, "slips", n, "answer"),
            reader.prose(slip.tell, "slips", n, "tell"),
        )
        for n, slip in enumerate(fields.slips)
    ]

    def prepare(values: Mapping[str, Value], _stream: Stream) -> Prepared:
        plan: Any = network.evaluate(values)
        parts = _parts(recipe, plan, kinds, reader)
        ids = [part.id for part in parts]
        what = f"a part of this network that can be pointed at ({', '.join(kinds)})"
        right = right_ones(answer, values, ids, what)
        taken = {slip: given_by(wrong, values, ids, what) for slip, wrong, _ in slips}
        ask: NetworkAsk = {
            "points": points_that_can_be_set(points, values, len(right)),
            "parts": [{"id": part.id, "words": part.words} for part in parts],
        }

        def drawn() -> dict[str, Any]:
            return {
                "drawings": [picture(recipe.draw_parts(plan, kinds, width)) for width in WIDTHS],
                "bands": [picture(row) for row in recipe.draw_parts_for_paper(plan, kinds)],
            }

        def tell() -> dict[str, str]:
            return {slip: text.render(values) for slip, _, text in slips}

        key = {"right": right, "slips": {slip: found for slip, found in taken.items() if found}}
        return Prepared(ask, key, late={"tell": tell}, drawn=drawn)

    return prepare


def _recipe(reader: FieldReader) -> DrawsParts:
    """The recipe of the lab's network. Raises `DefinitionError` where it has no parts."""
    if NETWORK not in reader.known:
        raise reader.error(
            "there is no network to point into.",
            "Describe one under 'network:' in the header, or write a picture that lies beside the "
            "lab: '![what it shows](photo.png)'.",
            "picture",
        )
    if reader.recipe is None:
        raise reader.error("needs the network, which is not as it should be.", "", "picture")
    if not isinstance(reader.recipe, DrawsParts):
        raise reader.error(
            "needs the drawing of a network whose parts can be pointed at, and the family "
            f"'{reader.family}' has none.",
            "Ask something else of this network, or point into a picture that lies beside the lab.",
            "picture",
        )
    return reader.recipe


def _refuse_of_picture(fields: SpotFields, reader: FieldReader) -> None:
    """Refuse what is said of a picture that lies beside the lab."""
    if fields.places:
        raise reader.error(
            "stands beside 'picture: network', whose parts are the places.",
            "Take it away; 'parts: [device, tap]' says what can be pointed at.",
            "places",
        )
    if fields.named:
        raise reader.error(
            "stands beside 'picture: network', whose parts have names already.",
            "Take it away.",
            "named",
        )


def _kinds(fields: SpotFields, recipe: DrawsParts, reader: FieldReader) -> Sequence[str]:
    """The kinds of parts that can be pointed at."""
    for index, kind in enumerate(fields.parts):
        if kind not in recipe.part_kinds:
            raise reader.error(
                f"there is no part '{kind}' in this network.",
                nearest(kind, recipe.part_kinds),
                *("parts", index),
            )
    return fields.parts or recipe.part_kinds


def _parts(
    recipe: DrawsParts, plan: Any, kinds: Sequence[str], reader: FieldReader
) -> list[NetworkPart]:
    try:
        return [part for part in recipe.parts(plan) if part.kind in kinds]
    except PlanError as error:
        raise reader.error(
            str(error), "Name them apart in the lab's 'network:'.", "picture"
        ) from error
