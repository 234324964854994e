"""A rung written in one line, `motor := (start OR motor) AND NOT stop`, and read again.

Assignment and operators as the Structured Text of IEC 61131-3 writes them; `set motor := …` and
`reset motor := …`, for the set and reset coil, are our own. Brackets hold parallel branches, one
level deep.
"""

import re
from collections.abc import Sequence

from labkit.fieldbus.errors import PlanError
from labkit.fieldbus.ladder import Branch, Coil, CoilKind, Contact, Group, Rung

LONGEST = 500
_TOKEN = re.compile(r"\s*([()]|%?[A-Za-z_][A-Za-z0-9_.]*)")
_HEAD = re.compile(r"\s*(?:(set|reset)\s+)?(%?[A-Za-z_][A-Za-z0-9_.]*)\s*:=", re.IGNORECASE)
_WORDS = {"AND", "OR", "NOT"}

_Term = list["Contact | list[_Term]"]


def rung_from_text(text: str) -> Rung:
    """Read a rung.

    >>> rung_from_text("motor := start AND NOT stop").coil
    Coil(operand='motor', kind=<CoilKind.ASSIGN: 'assign'>)
    """
    if len(text) > LONGEST:
        raise PlanError(f"a rung of over {LONGEST} characters is too long; cut it in two.")
    head = _HEAD.match(text)
    if head is None:
        raise PlanError(f"'{text}' has no coil; begin with its operand, as in 'motor := start'.")
    kind = CoilKind((head[1] or "assign").lower())
    reader = _Reader(_tokens(text[head.end() :]), text)
    terms = reader.alternatives()
    reader.must_end()
    return Rung(_groups(terms, text), Coil(head[2], kind))


def text_of(rung: Rung) -> str:
    """The rung in one line, as `rung_from_text` reads it; a plain wire is written TRUE."""
    alone = len(rung.groups) == 1
    series = " AND ".join(_group_text(group, alone) for group in rung.groups) or "TRUE"
    word = "" if rung.coil.kind is CoilKind.ASSIGN else f"{rung.coil.kind.value} "
    return f"{word}{rung.coil.operand} := {series}"


def _group_text(group: Group, alone: bool) -> str:
    joined = " OR ".join(_branch_text(branch) for branch in group)
    return joined if len(group) == 1 or alone else f"({joined})"


def _branch_text(branch: Branch) -> str:
    words = (f"NOT {each.operand}" if each.closed else each.operand for each in branch)
    return " AND ".join(words) or "TRUE"


def _tokens(text: str) -> list[str]:
    found, at = [], 0
    text = text.rstrip().removesuffix(";").rstrip()
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise PlanError(f"'{text[at:].strip()[:20]}' cannot stand in a rung.")
        found.append(match[1])
        at = match.end()
    return found


class _Reader:
    """Reads words one by one: alternatives of series of contacts or bracketed alternatives."""

    def __init__(self, tokens: Sequence[str], text: str) -> None:
        self._tokens = list(tokens)
        self._text = text

    def _next(self) -> str:
        return self._tokens[0].upper() if self._tokens else ""

    def alternatives(self) -> list[_Term]:
        terms = [self._series()]
        while self._next() == "OR":
            self._tokens.pop(0)
            terms.append(self._series())
        return terms

    def _series(self) -> _Term:
        factors: _Term = [self._factor()]
        while self._next() == "AND":
            self._tokens.pop(0)
            factors.append(self._factor())
        return factors

    def _factor(self) -> "Contact | list[_Term]":
        if self._next() == "(":
            self._tokens.pop(0)
            inner = self.alternatives()
            if self._next() != ")":
                raise PlanError(f"a bracket is not closed in '{self._text}'.")
            self._tokens.pop(0)
            return inner
        closed = self._next() == "NOT"
        if closed:
            self._tokens.pop(0)
        if not self._next() or self._next() in _WORDS or self._next() in "()":
            raise PlanError(f"an operand is missing in '{self._text}'.")
        return Contact(self._tokens.pop(0), closed)

    def must_end(self) -> None:
        if self._tokens:
            word = self._tokens[0]
            raise PlanError(f"'{word}' is too much in '{self._text}'; join by AND or OR.")


def _groups(terms: list[_Term], text: str) -> tuple[Group, ...]:
    if len(terms) > 1:
        return (tuple(_branch(term, text) for term in terms),)
    groups: list[Group] = []
    for factor in terms[0]:
        if isinstance(factor, Contact):
            groups.append(((factor,),))
        else:
            groups.append(tuple(_branch(term, text) for term in factor))
    return tuple(groups)


def _branch(term: _Term, text: str) -> Branch:
    contacts = [factor for factor in term if isinstance(factor, Contact)]
    if len(contacts) < len(term):
        raise PlanError(f"'{text}' has branches within branches; one level is drawn here.")
    return tuple(contacts)
