"""The widgets of a workbook, and the page of each kind: a plain ES module and a style sheet each.

State is in traitlets, logic in Python; what an answer does is in `labkit.answering`. The modules
come from this package; nothing is fetched.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

_HERE: Final = Path(__file__).parent


@cache
def module(*names: str) -> str:
    """The text of the `.js` files beside this one, put together in order into one ES module."""
    return "\n".join((_HERE / f"{name}.js").read_text(encoding="utf-8") for name in names)


@cache
def style(*names: str) -> str:
    """The text of the `.css` files beside this one; a module need not have one."""
    files = (_HERE / f"{name}.css" for name in names)
    return "\n".join(file.read_text(encoding="utf-8") for file in files if file.exists())
