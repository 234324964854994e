"""The same numbers on every Python: the built-in sum of floats changed its rounding with 3.12.

Source: Python 3.12, "What's new", Other Language Changes: sum() now uses Neumaier summation.
"""

import ast
from pathlib import Path

import pytest

LABKIT = Path(__file__).parents[2] / "labkit"
# Sums of whole numbers or of fractions, which are exact everywhere.
EXACT = {
    "bench/rig/deck.py",
    "fieldbus/can/length.py",
    "fieldbus/can/response.py",
    "fieldbus/can/timing.py",
    "fieldbus/can/wire.py",
    "fieldbus/canopen/heard.py",
    "fieldbus/canopen/indicators.py",
    "fieldbus/canopen/pdo.py",
    "fieldbus/canopen/traffic.py",
    "fieldbus/chassis_modules.py",
    "fieldbus/chassis_search.py",
    "fieldbus/devicenet/scanlist.py",
    "fieldbus/devicenet/wiring.py",
    "fieldbus/diagram.py",
    "fieldbus/iomap.py",
    "fieldbus/modbus/heard_and_planned.py",
    "fieldbus/modbus/messages.py",
    "fieldbus/serial/character.py",
    "language/sandbox.py",
    "lab/networks/devicenet_timing.py",
    "proofing/engine.py",
    "proofing/syllables.py",
    "proofing/validity.py",
    "proofing/wording.py",
    "lab/reading/fields.py",
    "lab/reading/pictures.py",
    "lab/reading/sheet_file.py",
    "lab/definition.py",
    "lab/exercise_search.py",
}


def _modules() -> list[Path]:
    rooms = (LABKIT / "fieldbus", LABKIT / "bench", LABKIT / "lab")
    return [path for room in rooms for path in sorted(room.rglob("*.py"))]


def _sums(source: str) -> list[int]:
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "sum"
        and not _counts(node)
    ]


def _counts(call: ast.Call) -> bool:
    """sum(1 for …): a count."""
    argument = call.args[0]
    return isinstance(argument, ast.GeneratorExp) and isinstance(argument.elt, ast.Constant)


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(LABKIT)))
def test_floats_are_added_with_fsum(path: Path) -> None:
    if path.relative_to(LABKIT).as_posix() in EXACT:
        return
    assert _sums(path.read_text(encoding="utf-8")) == [], "use math.fsum"


def test_the_search_finds_a_planted_sum() -> None:
    assert _sums("total = sum(x for x in values)") == [1]
    assert _sums("count = sum(1 for x in values)") == []
