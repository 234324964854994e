"""Things and their partners: each thing is judged on its own."""

from __future__ import annotations

from typing import Any, Final

from labkit.doors.check import BlindGuess, Option
from labkit.doors.verdict import Verdict
from labkit.kinds.common import cells
from labkit.kinds.common import paper_forms as forms
from labkit.kinds.common.cell_data import NO_KEY
from labkit.kinds.common.cells import Part, State
from labkit.kinds.common.paper import Mistake
from labkit.kinds.pairs.data import Answer, PairsAsk, PairsKey
from labkit.language.markdown import plain

_NOUN: Final = "pair"


class PairsCheck:
    """Credit is the share of the things that have their partner."""

    def unreadable(self, ask: PairsAsk, answer: Any) -> str:
        """No partner chosen, or nothing that is one."""
        return cells.why_unreadable(_parts(ask), answer, _NOUN)

    def asks_back(self, ask: PairsAsk, answer: Any) -> list[str]:
        """Each thing with something that is no partner."""
        return cells.asks_back(_parts(ask), answer)

    def check(self, ask: PairsAsk, key: PairsKey, answer: Any) -> Verdict:
        """The share of the pairs that are right, and which are not."""
        return cells.form_verdict(_parts(ask, key), answer, noun=_NOUN)

    def states(self, ask: PairsAsk, key: PairsKey, answer: Any) -> dict[str, State]:
        """How each thing stands."""
        return cells.states(_parts(ask, key), answer)

    def shown(self, ask: PairsAsk, answer: Any) -> str:
        """Each thing with its partner, sorted: the same answer reads alike in every draw."""
        parts = sorted(_parts(ask), key=lambda part: part.label)
        return cells.shown(parts, answer)

    def right_answer(self, ask: PairsAsk, key: PairsKey) -> Answer:
        """Every thing with its partner."""
        return cells.right_answers(_parts(ask, key))

    def solved(self, ask: PairsAsk, key: PairsKey) -> str:
        """The pairs, as Markdown."""
        right = self.right_answer(ask, key)
        return "\n".join(
            f"- {plain(part.label)}: **{plain(right[part.name])}**" for part in _parts(ask)
        )

    def slip_answers(self, ask: PairsAsk, key: PairsKey) -> dict[str, Answer]:
        """The right pairs spoilt by each known confusion."""
        return cells.slip_answers(_parts(ask, key), lambda answer: self.check(ask, key, answer))

    def options(self, ask: PairsAsk, key: PairsKey, answer: Answer) -> list[Option]:
        """Each partner at each thing; what nobody took is told of where it is right or known."""
        return [
            _option(part, partner, cells.typed(answer, part.name))
            for part in _parts(ask, key)
            for partner in _partners(ask)
        ]

    def blind(self, ask: PairsAsk) -> float:
        """Any partner at each thing."""
        return float(len(_partners(ask))) ** -len(ask["rows"])

    def guesses(self, ask: PairsAsk) -> list[BlindGuess]:
        """The partners in the order of the list, and one for everything."""
        things, partners = [part.name for part in _parts(ask)], _partners(ask)
        # Fewer partners than things: those left over get none, which is right for nobody.
        in_order = dict(zip(things, partners, strict=False))
        return [
            BlindGuess("taking the partners in the order of the list", in_order, as_shown=True),
            *(
                BlindGuess(f"giving everything the partner '{each}'", dict.fromkeys(things, each))
                for each in partners
            ),
        ]

    def paper(self, ask: PairsAsk) -> str:
        """The things, with room for a partner each, and the partners to choose from."""
        return forms.table_form(ask["columns"], ask["rows"])

    def paper_right(self, ask: PairsAsk, key: PairsKey) -> str:
        """The pairs."""
        right = {part.name: part for part in _parts(ask, key)}
        return forms.table_form(ask["columns"], ask["rows"], right)

    def paper_slips(self, ask: PairsAsk, key: PairsKey) -> list[Mistake]:
        """Each known confusion with the things alone that it changes."""
        return forms.mistakes(_parts(ask, key), (), self.slip_answers(ask, key))

    def paper_for_marking(self, ask: PairsAsk, key: PairsKey, marks: float) -> str:
        """What each pair is worth."""
        return forms.marks_a_cell(_parts(ask, key), marks, _NOUN)


def _parts(ask: PairsAsk, key: PairsKey | None = None) -> list[Part]:
    parts = []
    for thing, cell in ask["rows"]:
        if "text" in thing and "name" in cell:
            known = key["cells"][cell["name"]] if key else NO_KEY
            parts.append(Part(cell["name"], thing["text"].rstrip("."), cell, known))
    return parts


def _option(part: Part, partner: str, chosen: str) -> Option:
    judged, taken = cells.judge(part, partner), cells.fits(part, chosen, partner)
    right = judged.state == "right"
    return Option(
        f"{part.name}: {partner}",
        f"{part.label}: {partner}",
        right,
        taken,
        told=judged.tell if taken and judged.slip else "",
        group=part.name.zfill(2),
        listed=right or bool(judged.slip),
    )


def _partners(ask: PairsAsk) -> list[str]:
    _, cell = ask["rows"][0]
    return cell["words"] if "name" in cell and cell["write"] == "word" else []
