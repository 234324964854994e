"""Typing into a field and choosing from a list, as a person does."""

from __future__ import annotations

from typing import Any

SHORT = 40
"""Longer texts are put in at once, as by a paste: key by key they would only take time."""
STANDING = "fields => fields.map(field => [field.getAttribute('aria-label'), field.value])"


def write(field: Any, text: str, standing: str | None = None) -> None:
    """Put `text` in place of what stands in a field (looked up if not said).

    An empty field is clicked and typed into key by key. Who mends an answer pastes the new one over
    the old: click and keys arrived at this field before.
    """
    standing = field.input_value() if standing is None else standing
    if standing == text:
        return
    if standing:
        field.fill(text)
        return
    field.click()
    if len(text) > SHORT:
        field.page.keyboard.insert_text(text)
    else:
        field.page.keyboard.type(text)


def choose(field: Any, word: str, standing: str | None = None) -> None:
    """Choose `word` from a list that drops down."""
    if word != (field.input_value() if standing is None else standing):
        field.select_option(word)


class Form:
    """The fields of an exercise by their labels: looked at together, touched where they differ."""

    def __init__(self, frame: Any) -> None:
        self._frame = frame
        fields = frame.locator(":is(input, select, textarea)[aria-label]")
        self._standing: dict[str, str] = dict(fields.evaluate_all(STANDING))

    def write(self, label: str, text: str) -> None:
        """Put `text` into the field of that label."""
        write(self._field(label), text, self._standing.get(label))

    def choose(self, label: str, word: str) -> None:
        """Choose `word` from the list of that label."""
        choose(self._field(label), word, self._standing.get(label))

    def _field(self, label: str) -> Any:
        return self._frame.get_by_label(label, exact=True)
