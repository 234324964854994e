"""A short text: right where it is an accepted spelling, or one typing error away from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from labkit.doors.check import Option
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.term.data import Answer, TermAsk, TermKey, WrongTerm
from labkit.kinds.term.spelling import as_near, errors_forgiven, folded, says
from labkit.language.markdown import plain

MAX_TYPED: Final = 80
"""Characters of an answer: a term is no sentence."""

_NOTHING: Final = "Nothing is written yet."
_TOO_LONG: Final = f"Write the term alone, with {MAX_TYPED} characters at most."


class TermCheck:
    """All or nothing: the term that is asked for, in a spelling that the author accepts."""

    def unreadable(self, ask: TermAsk, answer: Any) -> str:  # noqa: ARG002
        """Nothing written, or a whole text."""
        if not isinstance(answer, str) or not folded(answer[: MAX_TYPED + 1]):
            return _NOTHING
        return _TOO_LONG if len(answer.strip()) > MAX_TYPED else ""

    def check(self, ask: TermAsk, key: TermKey, answer: Any) -> Verdict:
        """Right; or which other term it is."""
        if sentence := self.unreadable(ask, answer):
            return unreadable(sentence)
        typed = answer.strip()
        errors = _fewest(ask, typed, key["spellings"])
        if errors == 0:
            return Verdict(1.0, "Right.")
        wrong = _wrong_term(ask, key, typed, errors)
        if wrong:
            return Verdict(0.0, wrong["tell"], wrong["id"])
        if errors is None:
            return Verdict(0.0, "That is not the term that is asked for.")
        others = (spelling for term in key["wrong"] for spelling in term["spellings"])
        if any(as_near(typed, spelling, errors) for spelling in others):
            return Verdict(0.0, "With this spelling it could be another term: look at each letter.")
        return Verdict(1.0, f"Right. It is spelt **{plain(_meant(typed, key['spellings']))}**.")

    def shown(self, ask: TermAsk, answer: Any) -> str:  # noqa: ARG002
        """As typed, in one line."""
        return " ".join(answer.split())[:MAX_TYPED] if isinstance(answer, str) else ""

    def right_answer(self, ask: TermAsk, key: TermKey) -> Answer:  # noqa: ARG002
        """The usual spelling."""
        return key["spellings"][0]

    def slip_answers(self, ask: TermAsk, key: TermKey) -> dict[str, Answer]:  # noqa: ARG002
        """Every wrong term in its usual spelling."""
        return {term["id"]: term["spellings"][0] for term in key["wrong"]}

    def options(self, ask: TermAsk, key: TermKey, answer: Answer) -> list[Option]:
        """The right term, each wrong one, and any other."""
        verdict, typed = self.check(ask, key, answer), self.shown(ask, answer)
        found = [_option(key["spellings"], typed if verdict.right else "", right=True)]
        for term in key["wrong"]:
            meant = term["id"] == verdict.slip
            found.append(_option(term["spellings"], typed if meant else "", told=term["tell"]))
        other = "" if verdict.right or verdict.slip else typed
        another = Option(
            "", "Another term", right=False, taken=bool(other), typed=other, listed=False
        )
        return [*found, another]

    def found_in(self, ask: TermAsk, key: TermKey, text: str) -> str:  # noqa: ARG002
        """The right term as it stands in a text that says none of the wrong ones; "" if not."""
        if any(says(text, each) for term in key["wrong"] for each in term["spellings"]):
            return ""
        return next((each for each in key["spellings"] if says(text, each)), "")

    def paper(self, ask: TermAsk) -> str:
        """A line to write on."""
        return paper.line("The term") + (paper.note(EXACT) if ask["exact"] else "")

    def paper_right(self, ask: TermAsk, key: TermKey) -> str:  # noqa: ARG002
        """The usual spelling."""
        return paper.filled(key["spellings"][0])

    def paper_slips(self, ask: TermAsk, key: TermKey) -> list[Mistake]:  # noqa: ARG002
        """Each wrong term in all its spellings."""
        return [
            Mistake(term["id"], ", ".join(term["spellings"]), term["tell"]) for term in key["wrong"]
        ]

    def paper_for_marking(self, ask: TermAsk, key: TermKey, marks: float) -> str:
        """What else is accepted."""
        others = ", ".join(key["spellings"][1:])
        also = f"Also accepted: {others}. " if others else "No other term is accepted. "
        rule = EXACT if ask["exact"] else FORGIVEN
        return paper.note(f"{also}{rule} All or nothing: {paper.marks_in_words(marks)}.")


FORGIVEN: Final = (
    "Capitals, blanks and hyphens do not count, and a small typing error in a long word is "
    "forgiven; numbers and codes must be exact."
)
EXACT: Final = "Capitals, blanks and hyphens do not count; every letter and number does."


def _option(spellings: Sequence[str], typed: str, told: str = "", *, right: bool = False) -> Option:
    taken = bool(typed)
    usual = spellings[0]
    return Option(folded(usual), usual, right, taken, told if taken else "", typed)


def _errors(ask: TermAsk, typed: str, spelling: str) -> int | None:
    if ask["exact"]:
        return 0 if folded(typed) == folded(spelling) else None
    return errors_forgiven(typed, spelling)


def _fewest(ask: TermAsk, typed: str, spellings: Iterable[str]) -> int | None:
    """The typing errors in the spelling that is nearest; None where none is near."""
    found = [_errors(ask, typed, spelling) for spelling in spellings]
    return min((errors for errors in found if errors is not None), default=None)


def _wrong_term(ask: TermAsk, key: TermKey, typed: str, errors: int | None) -> WrongTerm | None:
    """The wrong term that is typed: with fewer errors than the right one would have."""
    best, fewest = None, errors
    for term in key["wrong"]:
        found = _fewest(ask, typed, term["spellings"])
        if found is not None and (fewest is None or found < fewest):
            best, fewest = term, found
    return best


def _meant(typed: str, spellings: list[str]) -> str:
    """The spelling that is nearest."""
    near = [(errors_forgiven(typed, spelling), spelling) for spelling in spellings]
    return min(((n, s) for n, s in near if n is not None), key=lambda pair: pair[0])[1]
