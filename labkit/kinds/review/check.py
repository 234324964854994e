"""A proposed drawing, reviewed: all errors found, and nothing accused that is right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from labkit.doors.review import Found, ProposedDrawing
from labkit.doors.verdict import Verdict, unreadable
from labkit.kinds.common import paper
from labkit.kinds.common.paper import Mistake
from labkit.kinds.common.sentences import capital
from labkit.kinds.review.data import NOTHING, Answer, Mark, Part, ReviewAsk, ReviewKey
from labkit.kinds.review.drawing import drawing_of, rules_of

MOST_MARKS: Final = 40
_NOTHING_WRONG: Final = "Nothing in this drawing is wrong."


class ReviewCheck:
    """Each error found earns its share, and each part that is accused wrongly takes one away."""

    def unreadable(self, ask: ReviewAsk, answer: Any) -> str:
        """Nothing marked, too much, or a mark that names no part or no rule."""
        if answer == NOTHING:
            return ""
        if not isinstance(answer, list) or not answer:
            return "Mark what is wrong in the drawing, or say that nothing is."
        if len(answer) > MOST_MARKS:
            return f"There are more than {MOST_MARKS} marks: take some away."
        parts = {part["id"]: part for part in ask["parts"]}
        seen: list[Mark] = []
        for number, mark in enumerate(answer, 1):
            if not _is_mark(mark) or mark["part"] not in parts:
                return f"Mark {number} names no place of the drawing."
            where = f"place {parts[mark['part']]['number']}"
            if mark["rule"] not in rules_of(ask).rules:
                return f"Say what is wrong at {where}, or take the mark away."
            if mark in seen:
                return f"The same is said of {where} twice: take one of them away."
            seen.append(mark)
        return ""

    def check(self, ask: ReviewAsk, key: ReviewKey, answer: Any) -> Verdict:
        """The rules decide: what is accused wrongly is defended, what is missed is counted.

        Where it is, is told when all is found, and after scoring: it was to be looked for.
        """
        sentence = self.unreadable(ask, answer)
        if sentence:
            return unreadable(sentence)
        drawing = drawing_of(ask, key)
        review = _reviewed(drawing, answer)
        if not review.missed and not review.false:
            return Verdict(1.0, _all_right(len(review.errors)))
        share = (
            (len(review.errors) - len(review.missed) - len(review.false)) / len(review.errors)
            if review.errors
            else 0.0
        )
        lines = [_counted(review), *(_false_line(ask, drawing, mark) for mark in review.false)]
        slip, meaning = _slip(ask, drawing, review)
        return Verdict(max(0.0, share), "\n".join(lines), slip, meaning=meaning)

    def shown(self, ask: ReviewAsk, answer: Any) -> str:
        """Each mark with the number of its place and what is said of it."""
        if self.unreadable(ask, answer):
            return ""
        if answer == NOTHING:
            return _NOTHING_WRONG
        rules = rules_of(ask).rules
        return "; ".join(f"{_numbered(ask, m['part'])}: {rules[m['rule']]}" for m in answer)

    def right_answer(self, ask: ReviewAsk, key: ReviewKey) -> Answer:
        """Every error at the first of its places."""
        return [_mark(found) for found in drawing_of(ask, key).found()] or NOTHING

    def solved(self, ask: ReviewAsk, key: ReviewKey) -> str:
        """The errors, why, and how to mend them, as Markdown."""
        errors = [f"- {_error_in_words(ask, found)}" for found in drawing_of(ask, key).found()]
        return "\n".join(errors or [_NOTHING_WRONG])

    def slip_answers(self, ask: ReviewAsk, key: ReviewKey) -> dict[str, Answer]:
        """The right answer without one error; and with one part accused that is right."""
        drawing = drawing_of(ask, key)
        errors = drawing.found()
        right = [_mark(found) for found in errors]
        answers: dict[str, Answer] = {}
        for rule in dict.fromkeys(found.rule for found in errors):
            left = [mark for mark in right if mark["rule"] != rule]
            answers[f"missed-{rule}"] = left or NOTHING
        for rule in rules_of(ask).rules:
            false = next((m for m in _marks(drawing, rule) if _is_false(errors, m)), None)
            if false:
                answers[f"accused-{rule}"] = [*right, false]
        return answers

    def blind(self, ask: ReviewAsk) -> float:
        """One of all single marks; of several errors it is far less."""
        return 1 / (1 + len(ask["parts"]) * len(rules_of(ask).rules))

    def paper(self, ask: ReviewAsk) -> str:
        """The drawing with its numbers, what may be said, and a table to fill in."""
        head = paper.note("Write the number of each place that is wrong, and the letter of why.")
        rows = [["", ""] for _ in range(6)]
        table = paper.table(["Place (number)", "What is wrong (letter)"], rows, "fill", "fill")
        nothing = paper.boxes([_NOTHING_WRONG])
        return _on_paper(ask) + _letters(ask) + head + table + nothing

    def paper_right(self, ask: ReviewAsk, key: ReviewKey) -> str:
        """Every error with its letter and its mend."""
        errors = drawing_of(ask, key).found()
        lines = [
            f"{_letter(ask, found.rule)}: {_places_in_words(ask, found)}. "
            f"{capital(found.told)} Mend: {found.mend}"
            for found in errors
        ]
        return "<br>".join(paper.filled(line) for line in lines or [_NOTHING_WRONG])

    def paper_slips(self, ask: ReviewAsk, key: ReviewKey) -> list[Mistake]:
        """What is missed, with its mend; what is accused wrongly, and why it is right."""
        drawing = drawing_of(ask, key)
        return [
            _mistake(ask, drawing, slip, _reviewed(drawing, answer))
            for slip, answer in self.slip_answers(ask, key).items()
        ]

    def paper_for_marking(self, ask: ReviewAsk, key: ReviewKey, marks: float) -> str:
        """What an error found earns, and what a wrong accusation costs."""
        errors = drawing_of(ask, key).found()
        if not errors:
            worth = paper.marks_in_words(marks)
            return paper.note(f"“{_NOTHING_WRONG}” ticked: {worth}. Anything else: none.")
        worth = paper.marks_in_words(marks / len(errors))
        return paper.note(
            f"Each error found, at any of its places and with its letter: {worth}. Each place with "
            "a letter that is right as drawn takes as much away, down to none."
        )


@dataclass(frozen=True, slots=True)
class _Review:
    errors: Sequence[Found]
    missed: list[Found]
    false: list[Mark]


def _reviewed(drawing: ProposedDrawing, answer: Answer) -> _Review:
    errors = drawing.found()
    marks = [] if isinstance(answer, str) else answer
    missed = [found for found in errors if not any(_meets(found, mark) for mark in marks)]
    return _Review(errors, missed, [mark for mark in marks if _is_false(errors, mark)])


def _is_mark(mark: Any) -> bool:
    if not isinstance(mark, dict) or mark.keys() != {"part", "rule"}:
        return False
    return all(isinstance(value, str) for value in mark.values())


def _mark(found: Found) -> Mark:
    return {"part": found.parts[0], "rule": found.rule}


def _meets(found: Found, mark: Mark) -> bool:
    return mark["rule"] == found.rule and mark["part"] in found.parts


def _is_false(errors: Sequence[Found], mark: Mark) -> bool:
    return not any(_meets(found, mark) for found in errors)


def _marks(drawing: ProposedDrawing, rule: str) -> list[Mark]:
    """A rule said of every part, those first that it is about."""
    parts = [*drawing.concerned(rule), *(part.id for part in drawing.parts)]
    return [{"part": part, "rule": rule} for part in parts]


def _slip(ask: ReviewAsk, drawing: ProposedDrawing, review: _Review) -> tuple[str, str]:
    """The mistake, and what it means: the first that is accused, or that is missed."""
    if review.false:
        mark = review.false[0]
        return f"accused-{mark['rule']}", _false_line(ask, drawing, mark)
    missed = review.missed[0]
    return f"missed-{missed.rule}", _missed_line(ask, missed)


def _mistake(ask: ReviewAsk, drawing: ProposedDrawing, slip: str, review: _Review) -> Mistake:
    if review.false:
        [mark] = review.false
        rule = rules_of(ask).rules[mark["rule"]]
        accused = f"{_numbered(ask, mark['part'])}: {rule}"
        return Mistake(slip, accused, _false_line(ask, drawing, mark))
    missed = "; ".join(_places_in_words(ask, found) for found in review.missed)
    lines = [_missed_line(ask, found) for found in review.missed]
    return Mistake(slip, f"{missed}: not found", "\n".join(lines))


def _all_right(errors: int) -> str:
    if not errors:
        return "Right: nothing in this drawing is wrong."
    count = "the one error is" if errors == 1 else f"all {errors} errors are"
    return f"Right: {count} found, and nothing is accused that is right."


def _counted(review: _Review) -> str:
    errors = len(review.errors)
    found = errors - len(review.missed)
    of = f"{found} of {errors} errors found" if errors else "Nothing in this drawing is wrong"
    accused = len(review.false)
    return f"{of}; {accused or 'nothing'} accused that {'are' if accused > 1 else 'is'} right."


def _missed_line(ask: ReviewAsk, found: Found) -> str:
    return f"Not found: {_error_in_words(ask, found)}"


def _error_in_words(ask: ReviewAsk, found: Found) -> str:
    rule = rules_of(ask).rules[found.rule]
    places = _places_in_words(ask, found)
    return f"**{places}: {rule}.** {capital(found.told)} Mend: {found.mend}"


def _false_line(ask: ReviewAsk, drawing: ProposedDrawing, mark: Mark) -> str:
    rule = rules_of(ask).rules[mark["rule"]]
    why = capital(drawing.why_right(mark["part"], mark["rule"]))
    return f"Right as drawn: **{_numbered(ask, mark['part'])}**, not “{rule}”. {why}"


def _places_in_words(ask: ReviewAsk, found: Found) -> str:
    return " or ".join(_numbered(ask, part) for part in found.parts)


def _numbered(ask: ReviewAsk, part: str) -> str:
    drawn = _part(ask, part)
    return f"place {drawn['number']} ({drawn['words']})"


def _part(ask: ReviewAsk, part: str) -> Part:
    return next(each for each in ask["parts"] if each["id"] == part)


def _on_paper(ask: ReviewAsk) -> str:
    return "".join(f'<div class="drawing">{svg}</div>' for svg in ask["bands"])


def _letters(ask: ReviewAsk) -> str:
    rules = [[paper.letter_of(at), paper.text(rule)] for at, rule in _lettered(ask)]
    return paper.table(["Letter", "What is wrong"], rows=rules)


def _lettered(ask: ReviewAsk) -> list[tuple[int, str]]:
    return list(enumerate(rules_of(ask).rules.values()))


def _letter(ask: ReviewAsk, rule: str) -> str:
    return paper.letter_of([*rules_of(ask).rules].index(rule))
