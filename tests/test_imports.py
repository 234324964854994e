"""Imports go downwards only, and what is to run in a browser's Python needs nothing compiled."""

import ast
import subprocess
import sys
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import asdict
from functools import cache
from pathlib import Path

import pytest

from labkit.doors import installed

ROOT = Path(__file__).parents[1]
LABKIT = ROOT / "labkit"
KINDS = [file.parent for file in sorted((LABKIT / "kinds").glob("*/kind.py"))]
FLOORS = [
    ["fieldbus"],
    ["bench", "language", "exchange"],
    ["doors", "front_end"],
    ["lab"],
    ["families/common"],
    ["kinds/common", "families"],
    ["kinds"],
    ["answering", "proofing", "workbook"],
    ["station", "page"],
    ["classroom"],
    ["desk", "preview", "room"],
    ["board"],
    ["cli"],
]
"""The rooms, lowest floor first. Those of one floor know nothing of each other."""
IN_CLASSROOM = [
    [""],
    ["records", "analysis"],
    ["dealing"],
    ["handins"],
    ["marks"],
    ["certificates", "corrections", "people"],
    ["across", "cards", "exports", "pages"],
    ["scored"],
]
"""The rooms within the class room, likewise; "" is its ground floor, `labkit/classroom/*.py`."""
FLOOR = {room: number for number, rooms in enumerate(FLOORS) for room in rooms}
FLOOR_IN_CLASSROOM = {room: number for number, rooms in enumerate(IN_CLASSROOM) for room in rooms}
OF_ROOMS = ("kinds", "families")
"""Every folder in these is a room of its own."""
MAY_LOAD = {
    "check_for": {"answering", "proofing", "workbook", "classroom"},
    "reader_for": {"lab"},
    "page_for": {"answering"},
    "network_for": {"lab", "kinds/review"},
    "bench_for": {"kinds/common"},
    "bench_reading_for": {"lab", "kinds/common", "kinds/diagnosis", "kinds/wiring"},
    "frames_for": {"kinds/frame"},
    "frame_reading_for": {"kinds/frame"},
    "listening_for": {"kinds/sign_off"},
    "nodes_for": {"kinds/address_plan", "kinds/plan_board"},
    "supply_for": {"kinds/supply_position"},
    "review_for": {"kinds/review"},
    "plans_for": {"kinds/whole_plan"},
    "switches_for": {"kinds/switches"},
    "rig_for": {"lab"},
    "family_named": set(),
    "kind_named": set(),
}
"""Who may load which part of a kind or family through `labkit.doors.installed`."""
FAMILIES = {file.parent.name for file in (LABKIT / "families").glob("*/family.py")}
COMPILED = ("pydantic", "pandas", "orjson", "numpy", "openpyxl")


@cache
def _imports(source: str) -> frozenset[str]:
    """Every module that a source imports, also inside functions."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return frozenset(found)


def _room(module: str) -> str | None:
    top, room, inner, *_ = [*module.split("."), "", "", ""]
    if top != "labkit" or room not in {name.split("/")[0] for name in FLOOR}:
        return None
    return f"{room}/{inner}" if room in OF_ROOMS and inner else room


def _floor(room: str) -> int:
    return FLOOR.get(room, FLOOR[room.split("/")[0]])


def _not_downward(path: Path, source: str) -> list[str]:
    own = _room(_name(path))
    if own is None:
        return []
    rooms = {module: _room(module) for module in _imports(source)}
    return sorted(
        module
        for module, room in rooms.items()
        if room and room != own and _floor(room) >= _floor(own)
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


def _found(
    of: Callable[[Path, str], Collection[str]], room: str = ""
) -> dict[str, Collection[str]]:
    """What is found in the modules of a room, by the module; those without anything left out."""
    looked_at = {
        str(path.relative_to(LABKIT)): of(path, path.read_text(encoding="utf-8"))
        for path in _modules(room)
    }
    assert len(looked_at) > 10
    return {name: found for name, found in looked_at.items() if found}


def test_imports_go_downwards_only() -> None:
    assert _found(_not_downward) == {}


def test_every_room_stands_on_a_floor() -> None:
    rooms = {path.parent.name for path in LABKIT.glob("*/__init__.py")}
    assert rooms == {name.split("/")[0] for name in FLOOR}


def test_imports_go_downwards_within_the_class_room() -> None:
    def upward(path: Path, source: str) -> list[str]:
        return _not_downward_in_classroom(_sub_room(_name(path)) or "", source)

    assert _found(upward, "classroom") == {}


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
    choice = LABKIT / "kinds" / "choice" / "check.py"
    assert _not_downward(choice, "import labkit.kinds.table.check")
    assert not _not_downward(choice, "import labkit.kinds.common.span, labkit.kinds.choice.read")
    common = LABKIT / "kinds" / "common" / "span.py"
    assert _not_downward(common, "import labkit.families.devicenet.bench_reading")
    switches = LABKIT / "families" / "modbus" / "switches.py"
    assert _not_downward(switches, "import labkit.families.canopen.switches")
    assert not _not_downward(switches, "import labkit.families.common.coded_switches")
    shared = LABKIT / "families" / "common" / "coded_switches.py"
    assert _not_downward(shared, "import labkit.families.modbus.switches")


def _loads(path: Path, source: str) -> list[str]:
    """What a module loads of kinds and families and must not."""
    room = _room(_name(path)) or ""
    # The library loads its own public names late; it stands below the doors.
    if room in ("doors", "fieldbus"):
        return []
    nodes = list(ast.walk(ast.parse(source)))
    words = {node.id for node in nodes if isinstance(node, ast.Name)}
    words |= {node.attr for node in nodes if isinstance(node, ast.Attribute)}
    found = {name for name, rooms in MAY_LOAD.items() if name in words and room not in rooms}
    found |= words & {"entry_points", "import_module", "resolve_name"}
    for module in _imports(source):
        other, part = _room(module) or "", [*module.split("."), "", "", ""][3]
        of_kind = other.startswith("kinds/") and other not in ("kinds/common", room)
        if of_kind and part:
            found.add(module)
    return sorted(found)


def test_parts_of_kinds_are_loaded_by_few() -> None:
    assert _found(_loads) == {}


def test_a_planted_load_of_a_part_is_found() -> None:
    here = LABKIT / "classroom" / "sheet.py"
    assert _loads(here, "from labkit.doors.installed import reader_for\nreader_for('choice')")
    assert _loads(here, "from labkit.doors import installed\ninstalled.page_for('choice')")
    assert _loads(here, "from importlib.metadata import entry_points\nentry_points()")
    assert _loads(here, "import labkit.kinds.choice.check")
    assert not _loads(here, "from labkit.doors.installed import check_for\ncheck_for('choice')")


def test_reading_knows_nothing_of_editing() -> None:
    files = [path for path in _modules("lab") if path.parent.name != "editing"]
    knowing = [path for path in files if "labkit.lab.editing" in path.read_text("utf-8")]
    assert knowing == []


def _families_named(source: str) -> set[str]:
    """The families whose own modules a source imports, of labkit or of the library."""
    modules = [module.split(".") for module in _imports(source)]
    homes = (["labkit", "families"], ["labkit", "fieldbus"])
    return {parts[2] for parts in modules if parts[:2] in homes and len(parts) > 2} & FAMILIES


def test_no_room_but_its_own_names_a_family() -> None:
    own = LABKIT / "fieldbus", LABKIT / "families"
    outside = [path for path in _modules() if not any(map(path.is_relative_to, own))]
    naming = [path for path in outside if _families_named(path.read_text(encoding="utf-8"))]
    assert naming == []


def test_a_family_that_is_named_is_found() -> None:
    assert {"canopen", "devicenet", "modbus"} == FAMILIES
    assert _families_named("from labkit.fieldbus import devicenet") == {"devicenet"}
    late = "def late():\n    import labkit.families.devicenet.bench.setup\n"
    assert _families_named(late) == {"devicenet"}
    assert not _families_named("from labkit.fieldbus.can.frame import Frame")


@pytest.mark.parametrize("folder", KINDS, ids=lambda folder: folder.name)
def test_a_kind_names_its_parts_and_loads_none(folder: Path) -> None:
    assert (folder / "__init__.py").read_text(encoding="utf-8") == ""
    told = _imports((folder / "kind.py").read_text(encoding="utf-8"))
    assert told == {"labkit.doors.kind", "labkit.doors.kind.Kind"}


@pytest.mark.parametrize("name", sorted(FAMILIES))
def test_a_family_names_its_parts_and_loads_none(name: str) -> None:
    folder = LABKIT / "families" / name
    assert _imports((folder / "family.py").read_text(encoding="utf-8")) == {
        "labkit.doors.family",
        "labkit.doors.family.Family",
    }


LAZY = {
    # The constructor's name belongs to the plan, reading and writing it to the module above.
    "labkit.fieldbus.devicenet.network": {"labkit.fieldbus.devicenet.plan_json"},
    "labkit.fieldbus.modbus.network": {"labkit.fieldbus.modbus.plan_json"},
}


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _while_running(source: str) -> frozenset[str]:
    """Like `_imports`, without what only a type checker imports."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            node.body = [ast.Pass()]
    return _imports(ast.unparse(tree))


def _cycle(imports: Mapping[str, Collection[str]]) -> list[str]:
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


@pytest.mark.parametrize("room", sorted({name.split("/")[0] for name in FLOOR}))
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


def test_fieldbus_needs_only_the_standard_library() -> None:
    def foreign(_: Path, source: str) -> set[str]:
        tops = {module.split(".")[0] for module in _imports(source)}
        return tops - set(sys.stdlib_module_names) - {"labkit"}

    assert _found(foreign, "fieldbus") == {}


def _at_a_laptop(name: str) -> list[str]:
    """The modules of a family's parts that checks and pages of kinds ask for."""
    parts = asdict(installed.family_named(name)).items()
    return [
        place.split(":")[0]
        for part, place in parts
        if isinstance(place, str) and part != "network" and not part.endswith("_reading")
    ]


def test_checking_and_the_station_load_nothing_compiled() -> None:
    # Of a kind's files only those whose names begin with `read` may need a compiled package.
    paths = [*_modules("doors"), *_modules("front_end"), *_modules("kinds"), *_modules("station")]
    names = [_name(path) for path in paths if not path.name.startswith("read")]
    names += [module for name in FAMILIES for module in _at_a_laptop(name)]
    program = (
        "import sys, importlib, labkit.lab.draw\n"
        f"for name in {names!r}:\n"
        "    importlib.import_module(name)\n"
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


def test_marks_come_before_what_makes_sheets_and_figures_is_loaded() -> None:
    program = (
        "import sys, labkit.classroom.scored.score_and_write\n"
        "print([name for name in ('numpy', 'openpyxl', 'pandas') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr


def test_type_checks_know_every_folder_of_tests() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["mypy"]
    known = {path.removeprefix("$MYPY_CONFIG_FILE_DIR/") for path in settings["mypy_path"]}
    # A package is found over the folder that it lies in.
    folders = {
        file.parent
        for file in (ROOT / "tests").rglob("*.py")
        if not (file.parent / "__init__.py").exists()
    }
    assert {folder.relative_to(ROOT).as_posix() for folder in folders} <= known


def test_the_lock_names_only_the_public_index() -> None:
    lock = (ROOT / "uv.lock").read_text(encoding="utf-8")
    hosts = {part.split("/")[0] for part in lock.split("https://")[1:]}
    assert hosts == {"pypi.org", "files.pythonhosted.org"}
    assert "http://" not in lock
    assert "file://" not in lock


JUPYTER = ("anywidget", "ipywidgets", "traitlets", "IPython", "jupyter_core", "nbformat")
EVERY_PAGE = """
import importlib, pkgutil, sys
import labkit.answering
from labkit.doors import installed
for item in pkgutil.iter_modules(labkit.answering.__path__, "labkit.answering."):
    importlib.import_module(item.name)
for kind in installed.kinds():
    installed.page_for(kind)
"""


TRAINERS_ONLY = ("jinja2", "yaml", "sqlalchemy", "joblib", "ijson")


def test_what_an_answer_does_and_every_kinds_page_load_no_jupyter_nor_a_trainers_package() -> None:
    names = (*JUPYTER, *COMPILED, *TRAINERS_ONLY)
    program = f"{EVERY_PAGE}print(sorted(set({names!r}) & sys.modules.keys()))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]", done.stderr
