"""Lines of `class.yaml` changed one by one: what else the instructor wrote there stays as it is."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from hashlib import sha256

from labkit.classroom.class_file import read_class_file
from labkit.classroom.class_folder import CLASS_FILE, ClassFolder
from labkit.classroom.errors import ClassError
from labkit.classroom.private_place import Place
from labkit.language.problems import DefinitionError

Value = str | list[str]


def class_file_seen(folder: ClassFolder) -> str:
    """A name for the class's file as it is now."""
    return sha256((folder.path / CLASS_FILE).read_bytes()).hexdigest()


def change_class_file(folder: ClassFolder, changes: Mapping[str, Value], seen: str = "") -> None:
    """Write other values of some fields into `class.yaml`; "" or an empty list takes one out.

    `seen` names the file that whoever changes it has seen; "" for any. Nothing is written where
    the file would not say the same as before in all else. Raises `ClassError`, `DefinitionError`.
    """
    file = folder.path / CLASS_FILE
    data = file.read_bytes()
    if seen and sha256(data).hexdigest() != seen:
        raise ClassError(f"{CLASS_FILE} was changed meanwhile: look at it once more.")
    text = data.decode("utf-8-sig")
    before = read_class_file(text, CLASS_FILE).model_dump(exclude=set(changes))
    for name, value in changes.items():
        text = _changed(text, name, value)
    try:
        after = read_class_file(text, CLASS_FILE).model_dump(exclude=set(changes))
    except DefinitionError as error:
        # Its lines are those of the file that is not written.
        said = " ".join(f"{one.message} {one.mend}" for one in error.problems)
        raise ClassError(f"Nothing was changed: {said}") from error
    if after != before:
        raise ClassError(
            f"{CLASS_FILE} is written in a way that labkit does not change by itself. Write the "
            "line yourself."
        )
    Place(folder.path).write(text, CLASS_FILE)


def _changed(text: str, name: str, value: Value) -> str:
    """The text with one field changed: its line, and those that belong to it."""
    line = f"{name}: {json.dumps(value, ensure_ascii=False)}\n" if value else ""
    block = re.compile(rf"^{re.escape(name)}:[^\n]*(?:\n|$)(?:(?:[ \t]+|-)[^\n]*(?:\n|$))*", re.M)
    if block.search(text):
        return block.sub(lambda _: line, text, count=1)
    return f"{text}{'' if text.endswith(chr(10)) or not text else chr(10)}{line}"
