"""A widget on a page of its own: no notebook and no kernel between the page and Python.

The widget is the real one, its journal too, and the colours are those of JupyterLab's own themes.
Opening one takes a second, so that many screens can be looked at.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dealt import drawn_desk

from labkit.lab.draw import Scenario
from labkit.station.workbook import Workbook

THEMES = Path(sys.prefix) / "share" / "jupyter" / "lab" / "themes" / "@jupyterlab"
PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>labkit</title>
<style>body { margin: 0; padding: 8px 60px; background: var(--jp-layout-color0); }</style>
<style id="theme"></style></head><body><main></main></body></html>"""
# What a notebook's widget manager does: state by name, messages both ways, in order.
PUT_ON = """async ({esm, css, state}) => {
  const style = document.createElement('style');
  style.textContent = css;
  document.head.append(style);
  const url = URL.createObjectURL(new Blob([esm], {type: 'text/javascript'}));
  const {default: widget} = await import(url);
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
  document.querySelector('main').append(el);
  widget.render({model, el});
}"""


@dataclass
class BarePage:
    """A page with one exercise of a scenario on it."""

    page: Any
    workbook: Workbook

    def theme(self, name: str) -> None:
        """Colours of JupyterLab's "light" or "dark" theme."""
        css = (THEMES / f"theme-{name}-extension" / "index.css").read_text("utf-8")
        self.page.evaluate(
            """([css, light]) => {
              document.getElementById('theme').textContent = css;
              document.body.dataset.jpThemeLight = light;
            }""",
            [css, "true" if name == "light" else "false"],
        )

    def put_on(self, exercise: str) -> Any:
        """Put the widget of an exercise on the page; its frame."""
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

        self.page.expose_function("toPython", to_python)
        state = {name: getattr(widget, name) for name in ("workbook", "shown", "saved")}
        put = {"esm": str(widget._esm), "css": str(widget._css), "state": state}
        self.page.evaluate(PUT_ON, put)
        return self.page.locator(f'[data-exercise="{exercise}"]')


def bare_page(page: Any, scenario: Scenario, folder: Path, *, practice: bool = True) -> BarePage:
    """A page, light, for the exercises of a scenario; the workbook's files are in `folder`."""
    desk = drawn_desk(scenario, folder, practice=practice)
    page.set_content(PAGE)
    made = BarePage(page, Workbook.open(str(desk.task_file)))
    made.theme("light")
    return made
