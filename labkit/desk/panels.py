"""A button and what it says below itself; sentences in place of tracebacks."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Final

import ipywidgets as widgets  # type: ignore[import-untyped]
import pandas as pd

from labkit.classroom.progress import Progress
from labkit.errors import sentences

_STYLE: Final = """<style>
.lk-desk { color: var(--jp-content-font-color1, #1d2733); font: 14px/1.5 var(--jp-ui-font-family, system-ui, sans-serif); }
.lk-desk table { border-collapse: collapse; margin: 6px 0; }
.lk-desk th, .lk-desk td { text-align: left; padding: 3px 16px 3px 0; vertical-align: top;
  border-bottom: 1px solid var(--jp-border-color1, #b6c0c9); }
.lk-desk th { color: var(--jp-content-font-color2, #52606d); font-weight: 600; }
.lk-desk .lk-wrong { border-left: 5px dashed currentColor; padding: 4px 14px; margin: 6px 0; }
.lk-desk .lk-frame td:not(:last-child) { white-space: nowrap; }
.lk-desk td.to-right { text-align: right; }
.lk-desk td.to-center { text-align: center; }
.lk-desk p { margin: 4px 0; }
</style>"""  # noqa: E501


def as_html(*parts: str) -> widgets.HTML:
    """Pieces of HTML, dressed for light and dark notebooks."""
    return widgets.HTML(dressed(*parts))


def dressed(*parts: str) -> str:
    """The same as text."""
    return f'{_STYLE}<div class="lk-desk">{"".join(parts)}</div>'


def paragraph(words: str) -> str:
    """Words as a paragraph; nothing in them is taken for HTML."""
    return f"<p>{escape(words)}</p>"


def table(frame: pd.DataFrame) -> str:
    """A table as HTML; nothing in its cells is taken for HTML, what is missing is a dash."""
    return str(
        frame.to_html(
            border=0,
            na_rep="–",
            index=False,
            escape=True,
            float_format="{:.4g}".format,
            classes="lk-frame",
        )
    )


def wrong(error: Exception) -> str:
    """Any error in sentences."""
    shown = "<br>".join(f"✗ {escape(line)}" for line in sentences(error))
    return f'<div class="lk-wrong" role="alert">{shown}</div>'


class Panel(widgets.VBox):  # type: ignore[misc]
    """A button, the progress of what it does, and what came of it.

    `action` is called with a progress and returns HTML; an error of it becomes a sentence.
    """

    def __init__(self, words: str, action: Callable[[Progress], str]) -> None:
        self.button = widgets.Button(description=words, layout={"width": "240px"})
        self.bar = widgets.IntProgress(layout={"width": "100%", "visibility": "hidden"})
        self.below = widgets.HTML()
        self._action = action
        self.button.on_click(lambda _: self.press())
        super().__init__([self.button, self.bar, self.below])

    def say(self, html: str) -> None:
        """Show something below the button."""
        self.below.value = dressed(html)

    def press(self) -> Panel:
        """Do what the button does."""
        self.button.disabled = True
        self.bar.layout.visibility = "visible"
        try:
            self.say(self._action(self._step))
        except Exception as error:
            self.say(wrong(error))
        finally:
            self.button.disabled = False
            self.bar.layout.visibility = "hidden"
        return self

    def _step(self, done: int, everything: int) -> None:
        self.bar.max, self.bar.value = everything, done
