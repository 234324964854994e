"""An exercise made ready for one scenario, by the reader of its kind."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, cast

from labkit.language.stream import Stream

if TYPE_CHECKING:
    # A trainee's laptop has no expression language.
    from labkit.language.expression import Value


class Prepared:
    """An exercise for one scenario: `ask` is for the trainee, `key` is for the checker.

    Both are plain JSON data. Nothing of `key` may ever be in `ask`. `late` are parts of the key
    that only a wrong answer needs: each is worked out when it is first read. `drawn` makes parts
    of `ask` that show what the key holds: they decide no marks, and a later labkit may draw them
    otherwise. Where an assessed
    trainee needs more than `ask` because the workbook must not know `key` (readings taken
    beforehand), `assessed` makes it; the task file adds it to `ask`. `when_asked` makes the same
    for a host that keeps its workings to itself: each part is worked out when it is first needed.
    """

    __slots__ = (
        "_ask",
        "_drawn",
        "_key",
        "_late",
        "_shown",
        "_whole",
        "assessed",
        "when_asked",
    )

    def __init__(
        self,
        ask: Mapping[str, Any],
        key: Mapping[str, Any],
        *,
        late: Mapping[str, Callable[[], Any]] | None = None,
        drawn: Callable[[], Mapping[str, Any]] | None = None,
        assessed: Callable[[], dict[str, Any]] | None = None,
        when_asked: Callable[[], dict[str, Any]] | None = None,
    ) -> None:
        # Of the kind's own types; whoever does not know the kind takes them for what they are.
        self._ask = cast("dict[str, Any]", ask)
        self._key = cast("dict[str, Any]", key)
        self._late = late
        self._drawn = drawn
        self._shown: dict[str, Any] | None = None
        self._whole: _LateKey | None = None
        self.assessed = assessed
        self.when_asked = when_asked or assessed

    @property
    def ask(self) -> dict[str, Any]:
        """All that the trainee may see."""
        if self._shown is None:
            self._shown = {**self._ask, **self._drawn()} if self._drawn else self._ask
        return self._shown

    @property
    def early_ask(self) -> dict[str, Any]:
        """The ask without what is drawn from the key."""
        return self._ask

    @property
    def early_key(self) -> dict[str, Any]:
        """The key without its late parts."""
        return self._key

    @property
    def key(self) -> dict[str, Any]:
        """The whole key."""
        return dict(self.key_as_needed) if self._late else self._key

    @property
    def key_as_needed(self) -> dict[str, Any]:
        """The key for a check, whose late parts are worked out when the check reads them.

        Not for writing to a file: what was not read is not in it.
        """
        if not self._late:
            return self._key
        if self._whole is None:
            self._whole = _LateKey(self._key, self._late)
        return self._whole


class _LateKey(dict[str, Any]):
    def __init__(self, key: dict[str, Any], late: Mapping[str, Callable[[], Any]]) -> None:
        super().__init__(key)
        self._late = late

    def __missing__(self, name: str) -> Any:
        self[name] = value = self._late[name]()
        return value

    def __contains__(self, name: object) -> bool:
        return super().__contains__(name) or name in self._late

    def __iter__(self) -> Iterator[str]:
        # With this and `keys`, a copy such as {**key} has the late parts too.
        return iter(self.keys())

    def keys(self) -> Any:
        """The names of all parts, late ones too."""
        return dict.fromkeys([*super().keys(), *self._late]).keys()

    def get(self, name: str, default: Any = None) -> Any:
        """The part `name`, late or not; `default` where there is none."""
        try:
            return self[name]
        except KeyError:
            return default


Preparer = Callable[["Mapping[str, Value]", Stream], Prepared]
