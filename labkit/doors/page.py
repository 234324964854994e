"""What a host must know of an exercise kind to show an exercise of it. No host is known here."""

from __future__ import annotations

import inspect
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar, Final, Protocol, runtime_checkable

from labkit.doors.check import Ask, Key
from labkit.errors import LabkitError

MISFIT: Final = "This page and this labkit do not fit together: open the page anew."


class ExercisePage:
    """One exercise on a page. A kind names its script, and overrides what it does otherwise.

    `ask` is what the trainee may see; `key` decides, and is None in an assessed class. `steps` are
    those that the journal holds: a kind whose steps change something takes them again.
    """

    script: ClassVar[str] = ""
    """The kind's page module, such as "choice.js": a file beside the Python file that names it."""
    awaits: ClassVar[bool] = False
    """Whether a person marks this kind: nothing is checked then, each change is saved."""
    drills: ClassVar[bool] = True
    """Whether one more with other numbers can be worked at and checked here, on a page alone."""

    def __init__(
        self,
        ask: Ask,
        key: Key | None,
        steps: Sequence[Any] = (),  # noqa: ARG002
    ) -> None:
        # A kind that reads them says of which of its types they are.
        self.ask = ask
        self.key = key

    @classmethod
    def script_file(cls) -> Path:
        """Where the kind's page module lies."""
        names = next(each for each in cls.__mro__ if "script" in vars(each))
        return Path(inspect.getfile(names)).with_name(cls.script)

    def shown_ask(self) -> Ask:
        """As much of `ask` as the page's script needs."""
        return self.ask

    def view(self) -> dict[str, Any]:
        """What the script needs beyond `ask`."""
        return {}

    def now(self) -> dict[str, Any]:
        """What of the view is as it is by the steps taken so far."""
        return {}

    def take(self, step: Any, answer: Any) -> dict[str, Any]:  # noqa: ARG002
        """The reply to a step; `answer` is the last one kept, or None.

        Raises `ValueError` for what makes no sense.
        """
        raise ValueError(MISFIT)

    def take_again(self, step: Any, answer: Any) -> dict[str, Any]:
        """The reply to a step that is taken already; a kind whose steps change something overrides.

        Raises `ValueError` where it cannot be given any more.
        """
        return self.take(step, answer)


class Play(Protocol):
    """Where something long is worked out, and waited for."""

    def __call__(
        self,
        asked: Mapping[str, Any],
        known: Mapping[str, Any] | None = None,
        *,
        rarely: bool = False,
    ) -> dict[str, Any]:
        """What `PlayedPage.played` of this kind says to what is asked. Raises `NotPlayedError`.

        What is asked `rarely` takes many times as long as the rest, which must not wait for it.
        """


class NotPlayedError(LabkitError, ValueError):
    """Why nothing came of what was asked; it may be asked again."""


class PlayedPage(ExercisePage):
    """A page with long work, which follows from plain JSON alone.

    A host that has it worked out elsewhere, in another process, hands in `play`; without it the
    page does it here.
    """

    def __init__(
        self, ask: Ask, key: Key | None, steps: Sequence[Any] = (), play: Play | None = None
    ) -> None:
        super().__init__(ask, key, steps)
        self.play = play

    @staticmethod
    def played(asked: Mapping[str, Any], known: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """What comes of what is asked, as plain JSON: always the same of the same.

        `known` is what came of a shorter question, as the kind that asks says; it saves time and
        changes nothing. Raises `ValueError`.
        """
        raise NotImplementedError


@runtime_checkable
class TakesFiles(Protocol):
    """A page that reads a file piece by piece; only what comes in an answer is kept of it."""

    def take_file(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """What comes of a piece, or of what was read before; any JSON may come."""


@runtime_checkable
class TriesOut(Protocol):
    """A page on which something is tried out in practice, without a trace in the journal."""

    def try_out(self, message: Mapping[str, Any]) -> dict[str, Any]:
        """What comes of it."""
