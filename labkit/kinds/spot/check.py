"""The right places of a picture or of a drawn network, pointed at or chosen by name."""

from __future__ import annotations

from typing import Any

from labkit.doors.check import BlindGuess, Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.spot.data import Answer, NetworkAsk, NetworkKey, SpotAsk, SpotKey
from labkit.kinds.spot.pointed import places, pointed, shown

Ask = SpotAsk | NetworkAsk
Key = SpotKey | NetworkKey


class SpotCheck:
    """Each right place earns its share, and each wrong point takes one away."""

    def unreadable(self, ask: Ask, answer: Any) -> str:
        """No point, too many, or something else than points and names."""
        if not isinstance(answer, list) or not answer:
            return "Point at a place in the picture."
        if len(answer) > ask["points"]:
            return f"There are more than {places(ask['points'])}: take some away."
        if not all(map(shown(ask).readable, answer)):
            return "Point into the picture."
        return ""

    def check(self, ask: Ask, key: Key, answer: Any) -> Verdict:
        """How many right places are found, and what each wrong point overlooks."""
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        of = pointed(ask, key)
        hits = [of.hit(item) for item in answer]
        found = {hit for hit in hits if hit} & set(key["right"])
        wrong = [(number, *of.told(hit)) for number, hit in enumerate(hits, 1) if hit not in found]
        share = (len(found) - len(wrong)) / len(key["right"])
        if share >= 1:
            return Verdict(1.0, "Right.")
        lines = [_found(len(found), len(key["right"]))] if len(key["right"]) > 1 else []
        for number, _, told in wrong:
            lines.append(f"Point {number}: {told}" if len(hits) > 1 else told)
        slip = next((slip for _, slip, _ in wrong if slip), "")
        return Verdict(max(0.0, share), "\n".join(lines), slip)

    def shown(self, ask: Ask, answer: Any) -> str:
        """The points in per cent, or the names."""
        if self.unreadable(ask, answer):
            return ""
        return "; ".join(map(shown(ask).in_words, answer))

    def right_answer(self, ask: Ask, key: Key) -> Answer:
        """A point at each right place."""
        return pointed(ask, key).right_answer()

    def solved(self, ask: Ask, key: Key) -> str:
        """Where the right places are."""
        return pointed(ask, key).solved()

    def slip_answers(self, ask: Ask, key: Key) -> dict[str, Answer]:
        """Each known mistake in the stead of the first right place."""
        return pointed(ask, key).slip_answers()

    def guesses(self, ask: Ask) -> list[BlindGuess]:
        """What somebody points at who knows nothing."""
        return shown(ask).guesses()

    def options(self, ask: Ask, key: Key, answer: Answer) -> list[Option]:
        """What could be taken, and whatever lies elsewhere."""
        of = pointed(ask, key)
        return of.options([of.hit(item) for item in answer])

    def places(self, ask: Ask) -> list[str]:
        """What can be chosen by name."""
        return shown(ask).names()

    def right_places(self, ask: Ask, key: Key) -> frozenset[str]:
        """Those of them that are right."""
        return frozenset(pointed(ask, key).right_names())

    def paper(self, ask: Ask) -> str:
        """The picture or the drawing, to be marked with a pen."""
        return shown(ask).paper()

    def paper_right(self, ask: Ask, key: Key) -> str:
        """It with the right places framed and numbered, and their names."""
        return pointed(ask, key).paper_right()

    def paper_slips(self, ask: Ask, key: Key) -> list[Mistake]:
        """Each known mistake by its name."""
        return pointed(ask, key).paper_slips()

    def paper_for_marking(self, ask: Ask, key: Key, marks: float) -> str:  # noqa: ARG002
        """What a cross is worth."""
        worth = paper.marks_in_words(marks / len(key["right"]))
        return paper.note(
            f"Each framed place with a cross in it: {worth}. Each cross elsewhere takes as much "
            "away, down to none."
        )


def _found(count: int, of: int) -> str:
    return f"{count} of {places(of)} found."
