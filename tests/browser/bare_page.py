"""A widget on a page of its own: no notebook and no kernel between the page and Python.

The widget is the real one, its journal too, and the colours are those of JupyterLab's own themes.
Opening one takes a second, so that many screens can be looked at. Its page modules come in one of
two ways: put together into one, as a notebook takes them, or as they are, from a plain folder
whose server lets no style or script stand within an element.
"""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

from dealt import drawn_desk

from labkit.front_end.page_modules import page_modules, sheet_files
from labkit.lab.draw import Scenario
from labkit.station.workbook import Workbook

THEMES = Path(sys.prefix) / "share" / "jupyter" / "lab" / "themes" / "@jupyterlab"
PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>labkit</title>
</head><body><main></main></body></html>"""
# No script and no style but from files of the same server: nothing within an element.
STRICT = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:"
BODY = "body { margin: 0; padding: 8px 60px; background: var(--jp-layout-color0); }"
# By the script's own hand, which a strict page allows too.
ADOPT = """([name, css]) => {
  window.adopted ??= new Map();
  window.adopted.set(name, new CSSStyleSheet());
  window.adopted.get(name).replaceSync(css);
  document.adoptedStyleSheets = [...window.adopted.values()];
}"""
# What the strict page does not take is an error of the page.
WATCH = """addEventListener('securitypolicyviolation', (event) => {
  throw new Error(`refused: ${event.violatedDirective} ${event.sourceFile}:${event.lineNumber}`);
});"""
# What a notebook's widget manager does: state by name, messages both ways, in order.
PUT_ON = """async ({module, sheets, state}) => {
  for (const href of sheets) {
    const sheet = Object.assign(document.createElement('link'), {rel: 'stylesheet', href});
    const there = new Promise((loaded, failed) => {
      sheet.onload = loaded;
      sheet.onerror = failed;
    });
    document.head.append(sheet);
    await there;
  }
  const {default: widget} = await import(module);
  const heard = new Map();
  const tell = (event, ...args) => (heard.get(event) ?? []).forEach((each) => each(...args));
  const model = {
    get: (name) => state[name],
    on: (event, each) => heard.set(event, [...(heard.get(event) ?? []), each]),
    off: (event, each) => heard.set(event, (heard.get(event) ?? []).filter((e) => e !== each)),
    send: async (message) => {
      const reply = JSON.parse(await window.toPython(JSON.stringify(message)));
      for (const [name, value] of Object.entries(reply.traits)) {
        state[name] = value;
        tell(`change:${name}`);
      }
      for (const each of reply.messages) tell('msg:custom', each);
    },
  };
  const el = document.createElement('div');
  document.querySelector('main').replaceChildren(el);
  widget.render({model, el});
}"""
ADDRESS = "([text, type]) => URL.createObjectURL(new Blob([text], {type}))"


@dataclass(frozen=True)
class PlainFolder:
    """A folder, and the address under which a web server gives its files as they are."""

    path: Path
    url: str

    def take(self, file: Path) -> str:
        """Lay a file into it; its address."""
        shutil.copy(file, self.path)
        return f"{self.url}/{file.name}"


@contextmanager
def served(path: Path) -> Iterator[PlainFolder]:
    """The folder, served on this machine, with an empty page in it."""
    (path / "index.html").write_text(PAGE, encoding="utf-8")
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(path))) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        yield PlainFolder(path, f"http://127.0.0.1:{server.server_port}")
        server.shutdown()


class _Quiet(SimpleHTTPRequestHandler):
    # A system may call a script text/plain, which no browser takes for a module.
    extensions_map = {  # noqa: RUF012
        ".html": "text/html",
        ".js": "text/javascript",
        ".css": "text/css",
    }

    def end_headers(self) -> None:
        """A strict Content-Security-Policy goes with every file."""
        self.send_header("Content-Security-Policy", STRICT)
        super().end_headers()

    def log_message(self, *words: Any) -> None:
        """Say nothing."""


@dataclass
class BarePage:
    """A page with one exercise of a scenario on it."""

    page: Any
    workbook: Workbook
    folder: PlainFolder | None
    _hears: Callable[[str], str] | None = None
    """What the page's messages reach."""

    def theme(self, name: str) -> None:
        """Colours of JupyterLab's "light" or "dark" theme."""
        css = (THEMES / f"theme-{name}-extension" / "index.css").read_text("utf-8")
        self.adopt("theme", css)
        light = "true" if name == "light" else "false"
        self.page.evaluate("light => { document.body.dataset.jpThemeLight = light; }", light)

    def adopt(self, name: str, css: str) -> None:
        """Give the page a sheet of the test's own, in place of the one of this name."""
        self.page.evaluate(ADOPT, [name, css])

    def put_on(self, exercise: str) -> Any:
        """Put the widget of an exercise on the page, in place of another one; its frame."""
        widget = self.workbook.exercise(exercise)
        messages: list[Any] = []
        traits: dict[str, Any] = {}
        widget.send = lambda content, buffers=None: messages.append(content)  # noqa: ARG005
        widget.observe(lambda change: traits.update({change["name"]: change["new"]}), "saved")

        def to_python(text: str) -> str:
            messages.clear()
            traits.clear()
            widget._received(widget, json.loads(text), [])
            return json.dumps({"messages": messages, "traits": traits})

        if self._hears is None:
            self.page.expose_function("toPython", self._heard)
        self._hears = to_python
        state = {name: getattr(widget, name) for name in ("workbook", "shown", "saved")}
        module, sheets = self._modules(widget)
        self.page.evaluate(PUT_ON, {"module": module, "sheets": sheets, "state": state})
        return self.page.locator(f'[data-exercise="{exercise}"]')

    def _heard(self, text: str) -> str:
        assert self._hears is not None
        return self._hears(text)

    def _modules(self, widget: Any) -> tuple[str, list[str]]:
        """The addresses of a widget's module and of its sheets."""
        if self.folder is None:
            css = self.page.evaluate(ADDRESS, [str(widget._css), "text/css"])
            return self.page.evaluate(ADDRESS, [str(widget._esm), "text/javascript"]), [css]
        script = widget.answering.page.script_file()
        modules = [self.folder.take(module.path) for module in page_modules(script)]
        return modules[-1], [self.folder.take(file) for file in sheet_files(script)]


def bare_page(
    page: Any,
    scenario: Scenario,
    folder: Path,
    *,
    practice: bool = True,
    modules: PlainFolder | None = None,
) -> BarePage:
    """A page, light, for the exercises of a scenario; the workbook's files are in `folder`.

    The page modules come as they are from `modules`, where one is given.
    """
    desk = drawn_desk(scenario, folder, practice=practice)
    return bare_page_of(page, Workbook.open(str(desk.task_file)), modules)


def bare_page_of(page: Any, workbook: Workbook, modules: PlainFolder | None = None) -> BarePage:
    """A page, light, for the exercises of a workbook."""
    if modules:
        page.add_init_script(WATCH)
        page.goto(modules.url)
    else:
        page.set_content(PAGE)
    made = BarePage(page, workbook, modules)
    made.adopt("body", BODY)
    made.theme("light")
    return made
