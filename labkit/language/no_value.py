"""Why a formula that could be read has no value, in an author's words, and what mends it."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Final

from jinja2.exceptions import UndefinedError

from labkit.errors import LabkitError
from labkit.language.budget import TooMuchWorkError
from labkit.language.grammar import SIGNS
from labkit.language.near import near

Told = tuple[str, str]

OTHERWISE: Final = "Mend the formula, or keep such draws out with a rule in 'valid'."
_KINDS: Final = {
    **dict.fromkeys(("int", "float", "complex"), "a number"),
    **dict.fromkeys(("str",), "a text"),
    **dict.fromkeys(("list", "tuple", "range", "zip", "sequence"), "a list"),
    **dict.fromkeys(("dict",), "a group in { }"),
    **dict.fromkeys(("NoneType", "Undefined", "StrictUndefined"), "nothing"),
    **dict.fromkeys(("bool",), "yes or no"),
    **dict.fromkeys(("function", "builtin_function_or_method", "type", "method"), "a function"),
}
_AS_TEXT: Final = (
    "A unit stands under 'unit:'. To put a number into a text, write it as text: "
    "'tap ' + number | show"
)


class NoValueError(LabkitError, ValueError):
    """What a function of formulas is given has no value: why, and what mends it."""

    def __init__(self, reason: str, mend: str = OTHERWISE) -> None:
        super().__init__(reason)
        self.mend = mend


def why_no_value(error: Exception, text: str, values: Mapping[str, Any]) -> Told:
    """What is wrong with the formula `text`, and what mends it."""
    if isinstance(error, TooMuchWorkError | NoValueError):
        return str(error).rstrip("."), error.mend
    if isinstance(error, ZeroDivisionError):
        return "it divides by zero", OTHERWISE
    points = re.search(r"(?<![\w.])\d+(?:\.\d+){2,}", text)
    if points:
        return f"'{points[0]}' is not a number", "A number has one point, such as 1.25."
    without_else = re.search(r"\bif\b", text) and not re.search(r"\belse\b|\{%", text)
    if without_else:
        return (
            "its 'if' does not hold, and nothing says what then",
            "Write it with 'else': 5 if rate == 125 else 6",
        )
    if isinstance(error, UndefinedError):
        return _missing(error)
    if isinstance(error, TypeError):
        return _not_together(str(error), text, values)
    if isinstance(error, RecursionError | MemoryError):
        return "it is nested too deep, or grows too large", OTHERWISE
    if isinstance(error, IndexError | StopIteration):
        return "it takes an item of an empty list", OTHERWISE
    return str(error).rstrip(".") or "it cannot be worked out", OTHERWISE


def kind_of(value: Any) -> str:
    """What sort of value it is: "a number", "a list"."""
    return _named(type(value).__name__)


def _named(name: str) -> str:
    return _KINDS.get(name, f"a {name.lower()}")


def _missing(error: UndefinedError) -> Told:
    """An item, a key or a part that is not there."""
    trace = error.__traceback__
    while trace and trace.tb_next:
        trace = trace.tb_next
    undefined = trace.tb_frame.f_locals.get("self") if trace else None
    owner = getattr(undefined, "_undefined_obj", None)
    name = getattr(undefined, "_undefined_name", None)
    if isinstance(owner, list | tuple) and isinstance(name, int):
        if not owner:
            return f"the list is empty, so it has no item [{name}]", OTHERWISE
        return (
            f"the list has {len(owner)} items, and none is [{name}]",
            f"Items are counted from [0]: the last one is [{len(owner) - 1}], or [-1].",
        )
    if isinstance(owner, dict):
        known = [str(key) for key in owner]
        offer = near(str(name), known)
        mend = f"Did you mean '{offer}'?" if offer else f"It has: {', '.join(known[:12])}."
        return f"the group has no '{name}'", mend
    if is_dataclass(owner) and not isinstance(owner, type):
        known = [item.name for item in fields(owner)]
        offer = near(str(name), known)
        mend = f"Did you mean '{offer}'?" if offer else f"It has: {', '.join(known[:12])}."
        return f"{_named(type(owner).__name__)} has no '{name}'", mend
    if name is not None and not isinstance(name, int):
        return f"there is no '{name}' in {kind_of(owner)}", OTHERWISE
    return "it takes an item of what is no list", OTHERWISE


def _not_together(said: str, text: str, values: Mapping[str, Any]) -> Told:
    """Values of kinds that do not go together; too few or too many for a function."""
    call = re.match(r"(?:[\w.<>]*\.)?(\w+|<lambda>)(?:\(\))? (?:takes|expected|missing|got)", said)
    if call:
        return _wrong_call(_called(call[1], text, values), values)
    pair = re.search(r"for (\S+?)(?: or pow\(\))?: '(\w+)' and '(\w+)'", said)
    if pair:
        return _pair(_as_written(pair[1].removesuffix("="), text), _named(pair[2]), _named(pair[3]))
    compared = re.search(r"'(\S+)' not supported between instances of '(\w+)' and '(\w+)'", said)
    if compared:
        return _pair(compared[1], _named(compared[2]), _named(compared[3]))
    joined = re.search(r"can only concatenate (\w+) \(not \"(\w+)\"\) to", said)
    if joined:
        return _pair("+", _named(joined[1]), _named(joined[2]))
    times = re.search(r"can't multiply sequence by non-int of type '(\w+)'", said)
    if times:
        return _pair(_as_written("*", text), "a list", _named(times[1]))
    if "not iterable" in said or "has no len()" in said:
        given = _named(_type_in(said))
        return (
            f"a list is needed, and {given} stands there",
            "Give it a list, or write the value in square brackets: [value].",
        )
    if "not callable" in said:
        return _no_function(text, values)
    if "indices must be" in said or "not subscriptable" in said:
        return (
            "an item is taken of what is no list, or by what is no whole number",
            "An item is taken by its number, counted from 0: places[0].",
        )
    if "bad operand" in said or "must be real number" in said or "doesn't define" in said:
        return f"a number is needed, and {_named(_type_in(said))} stands there", OTHERWISE
    return "its parts do not fit together", OTHERWISE


def _as_written(sign: str, text: str) -> str:
    """The sign that the formula writes for one of the keyboard's."""
    own = (written for written, meant in SIGNS.items() if meant == sign and written in text)
    return sign if sign in text else next(own, sign)


def _type_in(said: str) -> str:
    found = re.search(r"'(\w+)'", said) or re.search(r"not (\w+)$|type (\w+) ", said)
    return next((part for part in found.groups() if part), "") if found else ""


def _pair(sign: str, left: str, right: str) -> Told:
    kinds = {left, right}
    reason = f"{left} and {right} do not go together with '{sign}'"
    if "a function" in kinds:
        return reason, "A function needs its brackets, and in them what it works with."
    if kinds == {"a text", "a number"}:
        if sign == "+":
            return reason, _AS_TEXT
        return reason, "A number stands without quotation marks."
    if any("a list" in kind for kind in kinds):
        return (
            reason,
            "Take one item of the list, such as drops[0], or a number of it, such as sum(drops).",
        )
    return reason, OTHERWISE


def _called(name: str, text: str, values: Mapping[str, Any]) -> str:
    """The name by which the formula calls the function that calls itself `name`."""
    names = [found for found in re.findall(r"(\w+)\(", text) if callable(values.get(found))]
    exact = [found for found in names if getattr(values[found], "__name__", "") == name]
    return next(iter([*exact, *names]), name)


def _wrong_call(name: str, values: Mapping[str, Any]) -> Told:
    takes = _takes(values.get(name))
    if not takes:
        return (
            f"'{name}' is not given what it needs in its brackets",
            f"Write what '{name}' works with between its brackets, such as {name}(drops).",
        )
    return (
        f"'{name}' is given too little or too much in its brackets",
        f"It takes {len(takes)}: {name}({', '.join(takes)}).",
    )


def _takes(function: Callable[..., Any] | None) -> list[str]:
    """The names of what must stand in a function's brackets."""
    try:
        known = inspect.signature(function).parameters.values() if function else []
    except (TypeError, ValueError):
        return []
    plain = (inspect.Parameter.POSITIONAL_ONLY, inspect.Parameter.POSITIONAL_OR_KEYWORD)
    return [
        item.name.strip("_") for item in known if item.kind in plain and item.default is item.empty
    ]


def _no_function(text: str, values: Mapping[str, Any]) -> Told:
    for name, inside in re.findall(r"(\w+) ?\(([^()]*)\)", text):
        if name in values and not callable(values[name]):
            if isinstance(values[name], list | tuple):
                return (
                    f"'{name}' is a list, no function",
                    f"An item of a list is taken with square brackets: {name}[{inside}].",
                )
            return f"'{name}' is no function", f"To multiply, write {name} * ({inside})."
    number = re.search(r"(\d+(?:\.\d+)?) ?\(", text)
    if number:
        return (
            f"between '{number[1]}' and '(' no sign stands",
            f"To multiply, write {number[1]} * (…).",
        )
    return "what stands before a round bracket is no function", "To multiply, write * before '('."
