"""How much work one formula or one piece of prose may do.

Work is counted in steps, not in time, so that a text is refused on every machine or on none. A
step is an item that a filter goes through, or twenty letters; a turn of a loop and a call take
several. What gives its items one by one takes its steps as it gives them.
"""

from __future__ import annotations

from collections.abc import Callable, ItemsView, Iterable, Iterator, KeysView, ValuesView
from functools import wraps
from types import NoneType
from typing import Any, Final, TypeVar

from jinja2 import pass_context
from jinja2.runtime import Context

from labkit.errors import LabkitError

MAX_STEPS: Final = 200_000
LETTERS_A_STEP: Final = 20

_SPENT: Final = " spent"
"""The name that a text's steps are counted by; no formula can write it."""
_LAZY_STEPS: Final = 10
_TURN_STEPS: Final = 15
_NODES_A_STEP: Final = 5

ONE_STEP: Final[frozenset[type]] = frozenset({float, int, bool, NoneType})
_GROUPS: Final = (list, tuple, dict, KeysView, ValuesView, ItemsView)
_SIZED: Final = (str, *_GROUPS)
_PASSED: Final[dict[str, Callable[[Context], tuple[Any, ...]]]] = {
    "": lambda _: (),
    "context": lambda context: (context,),
    "eval_context": lambda context: (context.eval_ctx,),
    "environment": lambda context: (context.environment,),
}
"""What Jinja hands to a filter before its value, by the mark that the filter has."""

_F = TypeVar("_F", bound=Callable[..., Any])


class TooMuchWorkError(LabkitError, ValueError):
    """A text's budget is used up."""

    mend: Final = (
        "Go through fewer items, or work a part out once, under a name of its own in 'let:'."
    )


def charge(context: Context, steps: int) -> None:
    """Take `steps` from the budget of the text that is being worked out.

    Raises `TooMuchWorkError` when it is used up.
    """
    spent = context.vars.get(_SPENT, 0) + steps
    context.vars[_SPENT] = spent
    if spent > MAX_STEPS:
        raise TooMuchWorkError(
            f"it takes over {MAX_STEPS} steps (an item that a filter goes through is one, a turn "
            f"of a loop {_TURN_STEPS} or more)"
        )


def weight(value: Any) -> int:
    """The steps that going through all of `value` takes, however deep its lists are.

    It stops counting where the budget ends: lists that share their parts can be endlessly long.
    """
    if type(value) in ONE_STEP:
        return 1
    if isinstance(value, str):
        return 1 + len(value) // LETTERS_A_STEP
    found, pending = 1, [value]
    while pending and found <= MAX_STEPS:
        group = pending.pop()
        if isinstance(group, str):
            found += len(group) // LETTERS_A_STEP
        elif isinstance(group, _GROUPS):
            found += len(group)
            if found <= MAX_STEPS and not ONE_STEP.issuperset(map(type, group)):
                pending.extend(group)
            if isinstance(group, dict):
                pending.append(group.values())
    return found


def charged(context: Context, made: Any) -> Any:
    """What has just been made, its steps taken."""
    if type(made) not in ONE_STEP:
        charge(context, weight(made))
    return made


SLOW: Final[dict[Callable[..., Any], int]] = {}
"""The functions that take long, and the steps that each call takes; see `slow`."""


def slow(steps: int) -> Callable[[_F], _F]:
    """Marks a family's function each call of which takes so many steps (of 5 µs or so)."""

    def marked(function: _F) -> _F:
        SLOW[function] = steps
        return function

    return marked


def counted(context: Context, values: Iterable[Any], each: int = 0) -> Iterator[Any]:
    """The values one by one; each takes its steps, and `each` more."""
    for value in values:
        charge(context, weight(value) + each)
        yield value


@pass_context
def turns(context: Context, values: Iterable[Any], nodes: int) -> Iterator[Any]:
    """The values that a loop goes through, whose body has so many nodes."""
    return counted(context, values, max(_TURN_STEPS, nodes // _NODES_A_STEP))


@pass_context
def weighed(context: Context, value: Any) -> Any:
    """The value itself, its steps taken: what is done with it may go through all of it."""
    charge(context, weight(value))
    return value


def budgeted(function: Callable[..., Any]) -> Callable[..., Any]:
    """A filter that takes steps for what it goes through and for what it makes."""
    passed = getattr(getattr(function, "jinja_pass_arg", None), "name", "")
    lead = _PASSED[passed]

    @pass_context
    @wraps(function)
    def within(context: Context, value: Any, *args: Any, **kwargs: Any) -> Any:
        # What is beside the value may be gone through for each of its items.
        beside = weight([*args, *kwargs.values()]) if args or kwargs else 0
        if isinstance(value, _SIZED):
            charge(context, weight(value) + len(value) * (1 + beside))
        elif beside and isinstance(value, Iterator):
            value = counted(context, value, beside)
        made = function(*lead(context), value, *args, **kwargs)
        if isinstance(made, Iterator):
            charge(context, _LAZY_STEPS)
            # With nothing beside, it gives what it was given: that has taken its steps.
            return counted(context, made) if beside else made
        return charged(context, made) if isinstance(made, str) else made

    return within
