"""Typing into a field and choosing from a list, as a person does."""

from __future__ import annotations

from typing import Any

SHORT = 40
"""Longer texts are put in at once, as by a paste: key by key they would only take time."""


def write(field: Any, text: str) -> None:
    """Click into a field and type `text` in place of what stands there."""
    if field.input_value() == text:
        return
    field.click()
    keyboard = field.page.keyboard
    keyboard.press("Control+A")
    if not text:
        keyboard.press("Delete")
    elif len(text) > SHORT:
        keyboard.insert_text(text)
    else:
        keyboard.type(text)


def choose(field: Any, word: str) -> None:
    """Choose `word` from a list that drops down."""
    if field.input_value() != word:
        field.select_option(word)
