"""A widget's modules: found by their imports, each in a scope of its own, all else refused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from labkit.front_end.page_modules import (
    SHARED,
    TOKENS,
    PageModuleError,
    joined,
    page_modules,
    sheets,
)

ENTRY = """\
import { one } from "./first.js";
import {
  two,
} from "./second.js";

const mine = one + two();
export default { render: () => mine };
"""
FIRST = """\
const mine = 1;
export const one = mine;
"""
SECOND = """\
import { one } from "./first.js";

const mine = one;
export function two() {
  return mine + 1;
}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the module `entry.js` and two that it imports."""
    for name, text in (("entry", ENTRY), ("first", FIRST), ("second", SECOND)):
        (tmp_path / f"{name}.js").write_text(text, encoding="utf-8")
    return tmp_path.resolve()


def refused(folder: Path, name: str = "entry", text: str | None = None) -> str:
    if text is not None:
        (folder / f"{name}.js").write_text(text, encoding="utf-8")
    with pytest.raises(PageModuleError) as error:
        joined(folder / "entry.js")
    return str(error.value)


def test_each_module_stands_once_after_what_it_imports(folder: Path) -> None:
    entry = folder / "entry.js"
    assert [m.path.stem for m in page_modules(entry)] == ["first", "second", "entry"]
    text = joined(entry)
    assert text.count("export ") == 1
    assert not re.search(r"^import", text, re.MULTILINE)
    assert text.endswith("export default $of_entry.$default;\n")
    # The three `mine` lie in three functions.
    assert text.count("= (() => {") == text.count("const mine = ") == 3


def test_a_line_keeps_its_number_after_the_line_that_takes_the_imports(folder: Path) -> None:
    module = page_modules(folder / "entry.js")[-1]
    line = "const mine = one + two();"
    assert module.text.splitlines().index(line) == ENTRY.splitlines().index(line)


def test_a_sheet_of_the_same_name_goes_with_its_module(folder: Path) -> None:
    (folder / "second.css").write_text(".two {}", encoding="utf-8")
    (folder / "entry.css").write_text(".entry {}", encoding="utf-8")
    (folder / "other.css").write_text(".other {}", encoding="utf-8")
    tokens = TOKENS.read_text("utf-8")
    assert sheets(folder / "entry.js") == f"{tokens}\n.two {{}}\n.entry {{}}"


def test_a_module_elsewhere_imports_ours_by_name(folder: Path) -> None:
    text = (
        'import { exercise } from "./frame.js";\nexport default { render: exercise(() => {}) };\n'
    )
    (folder / "entry.js").write_text(text, encoding="utf-8")
    entry = folder / "entry.js"
    assert SHARED / "frame.js" in [m.path for m in page_modules(entry)]
    assert ".lk-exercise" in sheets(entry)


def test_a_name_that_lies_in_two_folders_is_refused(folder: Path) -> None:
    (folder / "frame.js").write_text("export const exercise = 1;\n", encoding="utf-8")
    said = refused(
        folder, text='import { exercise } from "./frame.js";\nexport default exercise;\n'
    )
    assert "there are several" in said
    assert str(folder / "frame.js") in said


def test_a_circle_is_refused_and_told_whole(folder: Path) -> None:
    said = refused(folder, "first", 'import { two } from "./second.js";\nexport const one = two;\n')
    assert "in a circle, first.js → second.js → first.js" in said


def test_what_is_not_there_is_refused(folder: Path) -> None:
    (folder / "second.js").unlink()
    assert "asks for the page module second.js, which is in none" in refused(folder)
    said = refused(folder, "second", "export const three = 3;\n")
    assert "entry.js imports 'two', which" in said
    with pytest.raises(PageModuleError, match=r"A widget asks for the page module nowhere\.js"):
        joined(Path("nowhere.js"))
    with pytest.raises(PageModuleError, match="letters, digits"):
        joined(Path("no-where.js"))


def test_the_module_of_a_widget_exports_a_default(folder: Path) -> None:
    with pytest.raises(PageModuleError, match="has 'export default'"):
        joined(folder / "second.js")


def test_a_name_is_exported_once(folder: Path) -> None:
    assert "exports a name twice" in refused(folder, "first", FIRST + "export default 1;\n" * 2)


@pytest.mark.parametrize(
    "line",
    [
        'import "./first.js";',
        'import first from "./first.js";',
        'import * as first from "./first.js";',
        'import { one as two } from "./first.js";',
        'import { one } from "../first.js";',
        'import { one } from "first.js";',
        "import { one } from './first.js';",
        'import { one } from "./first.js"',
        '  import { one } from "./first.js";',
        'const a = 1; import { one } from "./first.js";',
        'const a = await import("./first.js");',
        "const a = import.meta.url;",
        "export let a = 1;",
        "export const { a } = {};",
        "export { mine };",
        'export * from "./first.js";',
        "export default function render() {}",
        "await 1;",
    ],
)
def test_any_other_import_or_export_is_refused_with_its_line(folder: Path, line: str) -> None:
    said = refused(folder, "first", f"{FIRST}\n{line}\n")
    assert f"first.js, line 4: '{line.strip()}' is no import or export" in said
