"""A widget's page modules, found by following their imports, and put together into one.

The notebook takes one module a widget, while each of ours is a file that imports others. `joined`
makes one text of a module and all that it imports: each file is a function of its own, so no name
can meet another, and what it exports is handed to those who import it. Served as they are, the
same files run too. Nothing is built.

`"./frame.js"` is looked for beside the file that imports it and among those that all share, which
lie in this folder, and must be there once. A sheet of the same name beside a module (`frame.css`)
goes with it.

What a module may say of other modules, each at the beginning of a line:

    import { name, other } from "./file.js";        (names may stand on several lines)
    export function name(…) {…}                     (also `async`)
    export const NAME = …;
    export class Name {…}
    export default …;                               (once, an expression)

Anything else that begins a line with `import` or `export`, also in a comment or a text, calls
`import(…)`, or asks `import.meta`, is refused. Nothing awaits outside a function.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from labkit.errors import LabkitError

SHARED: Final = Path(__file__).resolve().parent
"""Where the page modules that all share lie."""
TOKENS: Final = SHARED / "tokens.css"
"""Colours, type and spacing: it goes before every other sheet."""

_FILE: Final = re.compile(r"[A-Za-z]\w*\.js", re.ASCII)
_NAME: Final = r"[A-Za-z_$][\w$]*"
_NAMES: Final = rf"(?P<names>{_NAME}(?:,\s*{_NAME})*)"
_IMPORT: Final = re.compile(
    rf'^import \{{\s*{_NAMES},?\s*\}} from "\./(?P<file>{_FILE.pattern})";$', re.MULTILINE
)
_EXPORT: Final = re.compile(
    rf"^export (?P<declares>(?:async function|function|const|class) (?P<name>{_NAME})\b)",
    re.MULTILINE,
)
_DEFAULT: Final = re.compile(r"^export default (?!(?:async|function|class)\b)", re.MULTILINE)
_OTHER: Final = re.compile(
    r"""[ \t]*(?:import|export)\b|.*\bimport\s*[.(]|.*;\s*(?:import|export)\b\s*[\w{*"']|await\b"""
)
_EXPORTED_DEFAULT: Final = "$default"


class PageModuleError(LabkitError):
    """A page module that cannot be taken: a sentence that names the file, and what to do."""


@dataclass(frozen=True)
class PageModule:
    """One file: what it imports, what it exports, and its text without these words."""

    path: Path
    imports: dict[str, tuple[str, ...]]
    exports: tuple[str, ...]
    text: str

    @property
    def variable(self) -> str:
        """What its exports are called in the joined text."""
        return f"$of_{self.path.stem}"

    def scope(self, names: dict[str, str]) -> str:
        """Its text as a function that returns its exports; `names`: variables by file."""
        taken = "".join(
            f"const {{ {', '.join(wanted)} }} = {names[file]};\n"
            for file, wanted in self.imports.items()
        )
        body = f"{taken}{self.text}\nreturn {{ {', '.join(self.exports)} }};"
        return f"const {self.variable} = (() => {{\n{body}\n}})();"


@cache
def joined(entry: Path) -> str:
    """One module's text, of a module and all that it imports. Raises `PageModuleError`."""
    modules = page_modules(entry)
    names = {module.path.name: module.variable for module in modules}
    parts = [module.scope(names) for module in modules]
    if _EXPORTED_DEFAULT not in modules[-1].exports:
        raise PageModuleError(f"{modules[-1].path}: the module of a widget has 'export default'.")
    return "\n".join([*parts, f"export default {modules[-1].variable}.{_EXPORTED_DEFAULT};", ""])


@cache
def sheets(entry: Path) -> str:
    """The style sheets of a module and of all that it imports. Raises `PageModuleError`."""
    return "\n".join(file.read_text(encoding="utf-8") for file in sheet_files(entry))


def sheet_files(entry: Path) -> list[Path]:
    """The files of these style sheets, the tokens first. Raises `PageModuleError`."""
    files = [module.path.with_suffix(".css") for module in page_modules(entry)]
    return [TOKENS, *(file for file in files if file.exists())]


def page_modules(entry: Path) -> list[PageModule]:
    """A module and all that it imports, each after what it imports. Raises `PageModuleError`."""
    found: dict[Path, PageModule] = {}
    if not _FILE.fullmatch(entry.name):
        raise PageModuleError(f"{entry}: a page module's name has letters, digits and _, then .js.")
    _follow(_found(entry.name, entry.parent, "A widget"), (), found)
    return list(found.values())


def _follow(path: Path, importers: tuple[Path, ...], found: dict[Path, PageModule]) -> None:
    if path in importers:
        circle = [*importers[importers.index(path) :], path]
        raise PageModuleError(
            f"{path}: page modules import one another in a circle, "
            f"{' → '.join(file.name for file in circle)}. Move what they share into a third one."
        )
    if path in found:
        return
    module = _read(path)
    for file, names in module.imports.items():
        other = _found(file, path.parent, str(path))
        _follow(other, (*importers, path), found)
        for name in names:
            if name not in found[other].exports:
                raise PageModuleError(f"{path} imports '{name}', which {other} does not export.")
    found[path] = module


def _found(file: str, folder: Path, whose: str) -> Path:
    folders = dict.fromkeys((folder.resolve(), SHARED))
    places = [folder / file for folder in folders if (folder / file).is_file()]
    if not places:
        raise PageModuleError(
            f"{whose} asks for the page module {file}, which is in none of the folders "
            f"{', '.join(str(folder) for folder in folders)}."
        )
    if len(places) > 1:
        raise PageModuleError(
            f"{whose} asks for {file}, of which there are several: "
            f"{', '.join(str(place) for place in places)}. Rename one of them."
        )
    return places[0]


@cache
def _read(path: Path) -> PageModule:
    text = path.read_text(encoding="utf-8")
    imports: dict[str, tuple[str, ...]] = {}
    for found in _IMPORT.finditer(text):
        names = tuple(re.findall(_NAME, found["names"]))
        imports[found["file"]] = (*imports.get(found["file"], ()), *names)
    exports = [found["name"] for found in _EXPORT.finditer(text)]
    exports += [_EXPORTED_DEFAULT for _ in _DEFAULT.finditer(text)]
    # Lines stay where they are, so that a message's line is found in the source.
    bare = _IMPORT.sub(lambda found: "\n" * found[0].count("\n"), text)
    bare = _EXPORT.sub(lambda found: found["declares"], bare)
    bare = _DEFAULT.sub(f"const {_EXPORTED_DEFAULT} = ", bare)
    for number, line in enumerate(bare.splitlines(), 1):
        if _OTHER.match(line):
            raise PageModuleError(
                f"{path}, line {number}: '{line.strip()}' is no import or export that a page "
                f"module may have; {Path(__file__).name} says which it may."
            )
    if len(set(exports)) < len(exports):
        raise PageModuleError(f"{path} exports a name twice.")
    return PageModule(path, imports, tuple(exports), bare)
