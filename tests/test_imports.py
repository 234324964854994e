"""Imports go downwards only, and what is to run in a browser's Python needs nothing compiled."""

import ast
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LABKIT = ROOT / "labkit"
FLOORS = [
    ["fieldbus"],
    ["bench", "language", "exchange"],
    ["lab"],
    ["proofing", "workbook"],
    ["station"],
    ["classroom"],
    ["desk"],
    ["cli"],
]
"""The rooms, lowest floor first. Those of one floor know nothing of each other."""
IN_CLASSROOM = [
    [""],
    ["records", "analysis"],
    ["dealing"],
    ["handins"],
    ["marks"],
    ["corrections", "people"],
    ["exports", "pages"],
]
"""The rooms within the class room, likewise; "" is its ground floor, `labkit/classroom/*.py`."""
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
FLOOR_IN_CLASSROOM = {room: number for number, rooms in enumerate(IN_CLASSROOM) for room in rooms}
COMPILED = ("pydantic", "pandas", "orjson", "numpy", "openpyxl")


def _imports(source: str) -> set[str]:
    """Every module that a source imports, also inside functions."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def _room(module: str) -> str | None:
    parts = module.split(".")
    return parts[1] if parts[0] == "labkit" and len(parts) > 1 and parts[1] in FLOOR else None


def _not_downward(path: Path, source: str) -> list[str]:
    own = path.relative_to(LABKIT).parts[0].removesuffix(".py")
    if own not in FLOOR:
        return []
    rooms = {module: _room(module) for module in _imports(source)}
    return sorted(
        module
        for module, room in rooms.items()
        if room and room != own and FLOOR[room] >= FLOOR[own]
    )


def _sub_room(module: str) -> str | None:
    """The class room's room that a module is in, "" on its ground floor; None for others."""
    parts = module.split(".")
    if parts[:2] != ["labkit", "classroom"] or len(parts) == 2:
        return None
    return parts[2] if (LABKIT / "classroom" / parts[2]).is_dir() else ""


def _not_downward_in_classroom(own: str, source: str) -> list[str]:
    floor = FLOOR_IN_CLASSROOM
    rooms = {module: _sub_room(module) for module in _imports(source)}
    return sorted(
        module
        for module, room in rooms.items()
        if room is not None and room != own and floor[room] >= floor[own]
    )


def _modules(room: str = "") -> list[Path]:
    return sorted((LABKIT / room).rglob("*.py"))


@pytest.mark.parametrize("path", _modules(), ids=lambda path: str(path.relative_to(LABKIT)))
def test_imports_go_downwards_only(path: Path) -> None:
    assert _not_downward(path, path.read_text(encoding="utf-8")) == []


def test_every_room_stands_on_a_floor() -> None:
    rooms = {path.parent.name for path in LABKIT.glob("*/__init__.py")}
    assert rooms == FLOOR.keys()


@pytest.mark.parametrize(
    "path", _modules("classroom"), ids=lambda path: str(path.relative_to(LABKIT))
)
def test_imports_go_downwards_within_the_class_room(path: Path) -> None:
    own = _sub_room(_name(path)) or ""
    assert _not_downward_in_classroom(own, path.read_text(encoding="utf-8")) == []


def test_every_room_of_the_class_room_stands_on_a_floor() -> None:
    rooms = {path.parent.name for path in (LABKIT / "classroom").glob("*/__init__.py")}
    assert {"", *rooms} == FLOOR_IN_CLASSROOM.keys()


def test_the_class_room_hands_no_name_on() -> None:
    # Without `__all__` mypy's strict mode refuses every name that is taken from elsewhere.
    listing = [path for path in _modules("classroom") if "__all__" in path.read_text("utf-8")]
    assert listing == []


def test_a_planted_import_within_the_class_room_is_found() -> None:
    upward = "def late():\n    from labkit.classroom.marks.results import Scoring\n"
    found = ["labkit.classroom.marks.results", "labkit.classroom.marks.results.Scoring"]
    assert _not_downward_in_classroom("analysis", upward) == found
    assert _not_downward_in_classroom("", upward) == found
    assert not _not_downward_in_classroom("pages", upward)
    sideways = "import labkit.classroom.records.schema"
    assert _not_downward_in_classroom("analysis", sideways)
    assert not _not_downward_in_classroom("exports", sideways)


def test_a_planted_upward_or_sideways_import_is_found() -> None:
    source = "def late():\n    from labkit.classroom.marks import scoring\n"
    assert _not_downward(LABKIT / "lab" / "draw.py", source) == [
        "labkit.classroom.marks",
        "labkit.classroom.marks.scoring",
    ]
    assert _not_downward(LABKIT / "bench" / "bench.py", "import labkit.language.number")
    assert not _not_downward(LABKIT / "lab" / "draw.py", "import labkit.language.number")


LAZY = {
    # The constructor's name belongs to the plan, reading and writing it to the module above.
    "labkit.fieldbus.devicenet.network": {"labkit.fieldbus.devicenet.plan_json"},
}


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _while_running(source: str) -> set[str]:
    """Like `_imports`, without what only a type checker imports."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            node.body = [ast.Pass()]
    return _imports(ast.unparse(tree))


def _cycle(imports: dict[str, set[str]]) -> list[str]:
    """Modules that import each other in a ring, or none."""
    done: set[str] = set()

    def follow(module: str, way: list[str]) -> list[str]:
        if module in way:
            return [*way[way.index(module) :], module]
        if module in done:
            return []
        for other in sorted(imports.get(module, ())):
            found = follow(other, [*way, module])
            if found:
                return found
        done.add(module)
        return []

    return next(filter(None, (follow(module, []) for module in sorted(imports))), [])


@pytest.mark.parametrize("room", FLOOR)
def test_no_module_imports_itself_over_others(room: str) -> None:
    sources = {_name(path): path.read_text(encoding="utf-8") for path in _modules(room)}
    # A package's name in an import brings in its __init__ as well; what that gathers for
    # outsiders ties nothing inside the package, so packages are left out.
    plain = {name for name in sources if not (ROOT / name.replace(".", "/")).is_dir()}
    imports = {
        name: _while_running(sources[name]) & plain - LAZY.get(name, set()) for name in plain
    }
    assert _cycle(imports) == []


def test_a_planted_ring_is_found() -> None:
    assert _cycle({"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": set()}) == ["b", "c", "b"]
    late = "def late():\n    from labkit.bench.front import BenchFront\n"
    typed = f"if TYPE_CHECKING:\n    import labkit.bench.codec\n{late}"
    assert _while_running(typed) == {"labkit.bench.front", "labkit.bench.front.BenchFront"}


@pytest.mark.parametrize(
    "path", _modules("fieldbus"), ids=lambda path: str(path.relative_to(LABKIT))
)
def test_fieldbus_needs_only_the_standard_library(path: Path) -> None:
    tops = {module.split(".")[0] for module in _imports(path.read_text(encoding="utf-8"))}
    assert tops - set(sys.stdlib_module_names) <= {"labkit"}


def test_checking_and_the_station_load_nothing_compiled() -> None:
    program = (
        "import sys, pkgutil, importlib, labkit.lab.kinds as kinds, labkit.station.workbook\n"
        "import labkit.station.handin, labkit.lab.draw\n"
        "for item in pkgutil.iter_modules(kinds.__path__, kinds.__name__ + '.'):\n"
        "    importlib.import_module(item.name)\n"
        f"print(sorted(name for name in {COMPILED!r} if name in sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_the_statistics_of_a_class_know_no_database() -> None:
    program = (
        "import sys, pkgutil, importlib, labkit.classroom.analysis as analysis\n"
        "for item in pkgutil.iter_modules(analysis.__path__, analysis.__name__ + '.'):\n"
        "    importlib.import_module(item.name)\n"
        "print([name for name in sys.modules if name.startswith(('sqlalchemy',"
        " 'labkit.classroom.records'))])\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_type_checks_know_every_folder_of_tests() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["mypy"]
    known = {path.removeprefix("$MYPY_CONFIG_FILE_DIR/") for path in settings["mypy_path"]}
    folders = {file.parent for file in (ROOT / "tests").rglob("*.py")}
    assert {folder.relative_to(ROOT).as_posix() for folder in folders} <= known


def test_the_lock_names_only_the_public_index() -> None:
    lock = (ROOT / "uv.lock").read_text(encoding="utf-8")
    hosts = {part.split("/")[0] for part in lock.split("https://")[1:]}
    assert hosts == {"pypi.org", "files.pythonhosted.org"}
    assert "http://" not in lock
    assert "file://" not in lock
