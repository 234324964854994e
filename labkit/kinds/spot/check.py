"""The right places of a picture, pointed at or chosen by name."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.check import BlindGuess, Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.spot.data import Answer, Place, SpotAsk, SpotKey
from labkit.kinds.spot.paper import marked_picture, picture
from labkit.kinds.spot.places import WHOLE, place_at, point_in
from labkit.language.markdown import plain

_ELSEWHERE: Final = "Nothing that is asked for is there."


class SpotCheck:
    """Each right place earns its share, and each wrong point takes one away."""

    def unreadable(self, ask: SpotAsk, answer: Any) -> str:
        """No point, too many, or something else than points and names."""
        if not isinstance(answer, list) or not answer:
            return "Point at a place in the picture."
        if len(answer) > ask["points"]:
            return f"There are more than {_places(ask['points'])}: take some away."
        if not all(_readable(ask, item) for item in answer):
            return "Point into the picture."
        return ""

    def check(self, ask: SpotAsk, key: SpotKey, answer: Any) -> Verdict:
        """How many right places are found, and what each wrong point overlooks."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        hits = [_hit(key, item) for item in answer]
        found = {hit["id"] for hit in hits if hit} & set(key["right"])
        wrong = [hit for hit in hits if not hit or hit["id"] not in found]
        share = (len(found) - len(wrong)) / len(key["right"])
        if share >= 1:
            return Verdict(1.0, "Right.")
        lines = [_found(len(found), len(key["right"]))] if len(key["right"]) > 1 else []
        for number, hit in enumerate(hits, 1):
            if not hit or hit["id"] not in found:
                tell = key["tell"][hit["id"]] if hit else _ELSEWHERE
                lines.append(f"Point {number}: {tell}" if len(hits) > 1 else tell)
        slip = next((hit["id"] for hit in wrong if hit), "")
        return Verdict(max(0.0, share), "\n".join(lines), slip)

    def shown(self, ask: SpotAsk, answer: Any) -> str:
        """The points in per cent, or the names."""
        if self.unreadable(ask, answer):
            return ""
        return "; ".join(_in_words(item) for item in answer)

    def right_answer(self, ask: SpotAsk, key: SpotKey) -> Answer:  # noqa: ARG002
        """The middle of each right place."""
        return [_point(key, place) for place in _right(key)]

    def solved(self, ask: SpotAsk, key: SpotKey) -> str:
        """The picture, and where the right places are."""
        lines = [
            f"- {plain(place['name'])}: **{_in_words(_point(key, place))}**"
            for place in _right(key)
        ]
        return "\n".join([f"![{plain(ask['words'])}]({ask['picture']})", "", *lines])

    def slip_answers(self, ask: SpotAsk, key: SpotKey) -> dict[str, Answer]:
        """Each wrong place in the stead of the first right one."""
        _, *others = self.right_answer(ask, key)
        wrong = [place for place in key["places"] if place["id"] not in key["right"]]
        return {place["id"]: [_point(key, place), *others] for place in wrong}

    def guesses(self, ask: SpotAsk) -> list[BlindGuess]:
        """The middle of the picture; the first of the names, as many as may be chosen."""
        found = [BlindGuess("pointing at the middle of the picture", [[WHOLE // 2, WHOLE // 2]])]
        if ask["names"]:
            first = list[list[int] | str](ask["names"][: ask["points"]])
            found.append(BlindGuess("choosing the first of the names", first))
        return found

    def options(self, ask: SpotAsk, key: SpotKey, answer: Answer) -> list[Option]:  # noqa: ARG002
        """Each place, and whatever lies elsewhere."""
        hits = [_hit(key, item) for item in answer]
        pointed = {hit["id"] for hit in hits if hit}
        found = []
        for place in key["places"]:
            right, taken = place["id"] in key["right"], place["id"] in pointed
            told = key["tell"][place["id"]] if taken and not right else ""
            found.append(Option(place["id"], place["name"], right, taken, told))
        elsewhere = Option("", "Elsewhere", right=False, taken=None in hits, listed=False)
        return [*found, elsewhere]

    def places(self, ask: SpotAsk) -> list[str]:
        """What can be chosen by name."""
        return ask["names"]

    def right_places(self, ask: SpotAsk, key: SpotKey) -> frozenset[str]:
        """Those of them that are right."""
        return frozenset(place["name"] for place in _right(key)) & frozenset(ask["names"])

    def paper(self, ask: SpotAsk) -> str:
        """The picture, to be marked with a pen."""
        count = _places(ask["points"])
        note = paper.note(f"Mark {count} in the picture with a cross, and number the crosses.")
        names = f"The names of places: {', '.join(ask['names'])}." if ask["names"] else ""
        return picture(ask) + note + (paper.note(names) if names else "")

    def paper_right(self, ask: SpotAsk, key: SpotKey) -> str:
        """The picture with the right places framed and numbered, and their names."""
        names = ", ".join(f"{n} {place['name']}" for n, place in enumerate(_right(key), 1))
        return marked_picture(ask, _right(key)) + paper.filled(names)

    def paper_slips(self, ask: SpotAsk, key: SpotKey) -> list[Mistake]:  # noqa: ARG002
        """Each wrong place by its name."""
        wrong = [place for place in key["places"] if place["id"] not in key["right"]]
        return [Mistake(each["id"], each["name"], key["tell"][each["id"]]) for each in wrong]

    def paper_for_marking(self, ask: SpotAsk, key: SpotKey, marks: float) -> str:  # noqa: ARG002
        """What a cross is worth."""
        worth = paper.marks_in_words(marks / len(key["right"]))
        return paper.note(
            f"Each framed place with a cross in it: {worth}. Each cross elsewhere takes as much "
            "away, down to none."
        )


def _readable(ask: SpotAsk, item: Any) -> bool:
    if isinstance(item, str):
        return item in ask["names"]
    if not isinstance(item, list) or len(item) != 2:
        return False
    return all(type(number) is int and 0 <= number <= WHOLE for number in item)


def _hit(key: SpotKey, item: list[int] | str) -> Place | None:
    if isinstance(item, str):
        return next(place for place in key["places"] if place["name"] == item)
    return place_at(key["places"], *item)


def _right(key: SpotKey) -> list[Place]:
    return [place for place in key["places"] if place["id"] in key["right"]]


def _point(key: SpotKey, place: Place) -> list[int]:
    # The reader refuses a place that others cover.
    return point_in(key["places"], place) or []


def _in_words(item: list[int] | str) -> str:
    if isinstance(item, str):
        return item
    across, down = item
    return f"{across / 10:g} % from the left, {down / 10:g} % from the top"


def _found(count: int, of: int) -> str:
    return f"{count} of {_places(of)} found."


def _places(count: int) -> str:
    return "1 place" if count == 1 else f"{count} places"
