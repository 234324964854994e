"""What an exercise's points are held against: places of a picture, or parts of a network."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

from labkit.doors.check import BlindGuess, Option
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.common.sentences import capital
from labkit.kinds.spot.data import Answer, Item, NetworkAsk, NetworkKey, Place, SpotAsk, SpotKey
from labkit.kinds.spot.paper import drawing, marked_drawing, marked_picture, picture
from labkit.kinds.spot.places import WHOLE, place_at, point_in
from labkit.language.markdown import plain


class Shown(Protocol):
    """What is pointed into, as the trainee sees it."""

    def readable(self, item: Any) -> bool:
        """Whether this is a point of it."""

    def in_words(self, item: Item) -> str:
        """A point, as a report shows it."""

    def guesses(self) -> list[BlindGuess]:
        """What somebody points at who knows nothing."""

    def names(self) -> list[str]:
        """What can be answered by name."""

    def paper(self) -> str:
        """It, to be marked with a pen."""


class Pointed(Protocol):
    """The same with its key."""

    def hit(self, item: Item) -> str | None:
        """The id of what is pointed at."""

    def told(self, hit: str | None) -> tuple[str, str]:
        """The known mistake, "" for none, and what to tell of a wrong point."""

    def right_answer(self) -> Answer:
        """A point at each right place."""

    def right_names(self) -> list[str]:
        """What the right places are called."""

    def solved(self) -> str:
        """Where the right places are, as Markdown."""

    def slip_answers(self) -> dict[str, Answer]:
        """Each known mistake in the stead of the first right place."""

    def options(self, hits: list[str | None]) -> list[Option]:
        """What could be taken, and what was."""

    def paper_right(self) -> str:
        """It with the right places framed and numbered, and their names."""

    def paper_slips(self) -> list[Mistake]:
        """Each known mistake, and what to tell of it."""


@dataclass(frozen=True, slots=True)
class ShownPicture:
    """A picture that lies beside the lab."""

    ask: SpotAsk

    def readable(self, item: Any) -> bool:
        """A point in it, or a name where the author offers names."""
        if isinstance(item, str):
            return item in self.ask["names"]
        if not isinstance(item, list) or len(item) != 2:
            return False
        return all(type(number) is int and 0 <= number <= WHOLE for number in item)

    def in_words(self, item: Item) -> str:
        """In per cent, or the name."""
        return _in_words(item)

    def guesses(self) -> list[BlindGuess]:
        """The middle of the picture; the first of the names, as many as may be chosen."""
        found = [BlindGuess("pointing at the middle of the picture", [[WHOLE // 2, WHOLE // 2]])]
        if self.ask["names"]:
            first: Answer = [*self.ask["names"][: self.ask["points"]]]
            found.append(BlindGuess("choosing the first of the names", first))
        return found

    def names(self) -> list[str]:
        """Those that the author offers."""
        return self.ask["names"]

    def paper(self) -> str:
        """The bare picture, and the names that are offered."""
        names = f"The names of places: {', '.join(self.ask['names'])}." if self.ask["names"] else ""
        cross = paper.note(to_cross(self.ask["points"], "picture"))
        return picture(self.ask) + cross + (paper.note(names) if names else "")


@dataclass(frozen=True, slots=True)
class InPicture:
    """Places of a picture."""

    ask: SpotAsk
    key: SpotKey

    def hit(self, item: Item) -> str | None:
        """The smallest place that holds the point, or the one of that name."""
        if isinstance(item, str):
            return next(place["id"] for place in self.key["places"] if place["name"] == item)
        place = place_at(self.key["places"], *item)
        return place["id"] if place else None

    def told(self, hit: str | None) -> tuple[str, str]:
        """What the author tells of the place."""
        if hit is None or hit not in self.key["tell"]:
            return "", "Nothing that is asked for is there."
        return hit, self.key["tell"][hit]

    def right_answer(self) -> Answer:
        """The middle of each right place."""
        return [self._point(place) for place in self._right()]

    def right_names(self) -> list[str]:
        """Those that are offered as names too."""
        return [place["name"] for place in self._right() if place["name"] in self.ask["names"]]

    def solved(self) -> str:
        """The picture, and where the right places are."""
        lines = [
            f"- {plain(place['name'])}: **{_in_words(self._point(place))}**"
            for place in self._right()
        ]
        return "\n".join([f"![{plain(self.ask['words'])}]({self.ask['picture']})", "", *lines])

    def slip_answers(self) -> dict[str, Answer]:
        """Each wrong place in the stead of the first right one."""
        _, *others = self.right_answer()
        return {place["id"]: [self._point(place), *others] for place in self._wrong()}

    def options(self, hits: list[str | None]) -> list[Option]:
        """Each place, and whatever lies elsewhere."""
        found = []
        for place in self.key["places"]:
            right, taken = place["id"] in self.key["right"], place["id"] in hits
            told = self.key["tell"][place["id"]] if taken and not right else ""
            found.append(Option(place["id"], place["name"], right, taken, told))
        elsewhere = Option("", "Elsewhere", right=False, taken=None in hits, listed=False)
        return [*found, elsewhere]

    def paper_right(self) -> str:
        """The picture with frames."""
        names = ", ".join(f"{n} {place['name']}" for n, place in enumerate(self._right(), 1))
        return marked_picture(self.ask, self._right()) + paper.filled(names)

    def paper_slips(self) -> list[Mistake]:
        """Each wrong place by its name."""
        tell = self.key["tell"]
        return [Mistake(each["id"], each["name"], tell[each["id"]]) for each in self._wrong()]

    def _right(self) -> list[Place]:
        return [place for place in self.key["places"] if place["id"] in self.key["right"]]

    def _wrong(self) -> list[Place]:
        return [place for place in self.key["places"] if place["id"] not in self.key["right"]]

    def _point(self, place: Place) -> list[int]:
        # The reader refuses a place that others cover.
        return point_in(self.key["places"], place) or []


@dataclass(frozen=True, slots=True)
class ShownNetwork:
    """The drawing of a network."""

    ask: NetworkAsk

    def readable(self, item: Any) -> bool:
        """The id of a part."""
        return isinstance(item, str) and item in self._ids()

    def in_words(self, item: Item) -> str:
        """The part in words."""
        return next(part["words"] for part in self.ask["parts"] if part["id"] == item)

    def guesses(self) -> list[BlindGuess]:
        """The parts at the beginning, in the middle and at the end of the drawing."""
        ids, points = self._ids(), self.ask["points"]
        middle = (len(ids) - points) // 2
        return [
            BlindGuess("pointing at the left end", [*ids[:points]]),
            BlindGuess("pointing at the middle of the drawing", [*ids[middle : middle + points]]),
            BlindGuess("pointing at the right end", [*ids[-points:]]),
        ]

    def names(self) -> list[str]:
        """What a story could name."""
        return self._ids()

    def paper(self) -> str:
        """The drawing as it is."""
        cross = paper.note(to_cross(self.ask["points"], "drawing"))
        return drawing(self.ask["bands"]) + cross

    def _ids(self) -> list[str]:
        return [part["id"] for part in self.ask["parts"]]


@dataclass(frozen=True, slots=True)
class InNetwork:
    """Parts of a network."""

    ask: NetworkAsk
    key: NetworkKey

    def hit(self, item: Item) -> str | None:
        """The part itself."""
        return str(item)

    def told(self, hit: str | None) -> tuple[str, str]:
        """What the author tells of the part, where it is a known mistake."""
        slip = next((id for id, parts in self.key["slips"].items() if hit in parts), "")
        words = capital(self._words([hit or ""]))
        return slip, self.key["tell"][slip] if slip else f"{words} is not what is asked for."

    def right_answer(self) -> Answer:
        """The right parts."""
        return [*self.key["right"]]

    def right_names(self) -> list[str]:
        """Their ids."""
        return self.key["right"]

    def solved(self) -> str:
        """The right parts in words."""
        shown = ShownNetwork(self.ask)
        return "\n".join(f"- **{plain(shown.in_words(part))}**" for part in self.key["right"])

    def slip_answers(self) -> dict[str, Answer]:
        """The first part of each known mistake in the stead of the first right one."""
        _, *others = self.key["right"]
        return {
            slip: [parts[0], *(part for part in others if part != parts[0])]
            for slip, parts in self.key["slips"].items()
        }

    def options(self, hits: list[str | None]) -> list[Option]:
        """What is right, each known mistake, and other parts: names differ from draw to draw."""
        right = self.key["right"]
        taken = [hit for hit in hits if hit not in right]
        found = [Option("right", self._words(right), right=True, taken=len(taken) < len(hits))]
        for slip, parts in self.key["slips"].items():
            wrong = any(hit in parts for hit in taken)
            told = self.key["tell"][slip] if wrong else ""
            words = self._words(parts)
            found.append(Option(f"slip {slip}", words, right=False, taken=wrong, told=told))
        known = {part for parts in self.key["slips"].values() for part in parts}
        other = any(hit not in known for hit in taken)
        return [*found, Option("", "Another part", right=False, taken=other, listed=False)]

    def paper_right(self) -> str:
        """The drawing with frames."""
        right = self.key["right"]
        names = ", ".join(f"{n} {self._words([part])}" for n, part in enumerate(right, 1))
        return marked_drawing(self.ask["bands"], right) + paper.filled(names)

    def paper_slips(self) -> list[Mistake]:
        """The parts of each known mistake."""
        return [
            Mistake(slip, self._words(parts), self.key["tell"][slip])
            for slip, parts in self.key["slips"].items()
        ]

    def _words(self, parts: list[str]) -> str:
        shown = ShownNetwork(self.ask)
        return ", ".join(shown.in_words(part) for part in parts)


def shown(ask: Any) -> Shown:
    """What is pointed into."""
    return ShownNetwork(ask) if "parts" in ask else ShownPicture(ask)


def pointed(ask: Any, key: Any) -> Pointed:
    """What points are held against."""
    return InNetwork(ask, key) if "parts" in ask else InPicture(ask, key)


def places(count: int) -> str:
    """So many places."""
    return "1 place" if count == 1 else f"{count} places"


def to_cross(count: int, what: str) -> str:
    """What is done with a pen."""
    return f"Mark {places(count)} in the {what} with a cross, and number the crosses."


def _in_words(item: Item) -> str:
    if isinstance(item, str):
        return item
    across, down = item
    return f"{across / 10:g} % from the left, {down / 10:g} % from the top"
