"""How formulas are written: as Jinja reads them, with the signs and numbers of the trade.

A sign of books stands for the keyboard's own (`SIGNS`), a number may be written as IEC 61131-3
writes it (16#FF, 8#17, 2#1010_0101), and a power binds as in mathematics: -2^2 is -4, 2^3^2 is 2^9.
All of it is decided sign by sign as a formula is read, so what stands in quotation marks or outside
of braces stays the text that it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from jinja2 import Environment, nodes
from jinja2.lexer import (
    TOKEN_BLOCK_BEGIN,
    TOKEN_INTEGER,
    TOKEN_NAME,
    TOKEN_OPERATOR,
    TOKEN_VARIABLE_BEGIN,
    Lexer,
    Token,
    _Rule,
)
from jinja2.parser import Parser

SIGNS: Final = {"^": "**", "×": "*", "·": "*", "⋅": "*", "÷": "/", "−": "-"}
"""Signs of a formula, and what Jinja writes for them."""
BASED: Final = re.compile(
    r"(?:2#[01]+(?:_[01]+)*|8#[0-7]+(?:_[0-7]+)*|16#[\da-f]+(?:_[\da-f]+)*)(?![\w#])",
    re.ASCII | re.IGNORECASE,
)
"""A number with its base, as IEC 61131-3 writes it."""
_PREFIXES: Final = {"2": "0b", "8": "0o", "16": "0x"}
_OWN_RULES: Final = (
    _Rule(BASED, TOKEN_INTEGER, None),
    _Rule(re.compile("|".join(map(re.escape, SIGNS))), TOKEN_OPERATOR, None),
)


class FormulaLexer(Lexer):
    """Takes a text apart into signs, names and numbers."""

    def __init__(self, environment: Environment) -> None:
        super().__init__(environment)
        for state in (TOKEN_VARIABLE_BEGIN, TOKEN_BLOCK_BEGIN):
            end, *others = self.rules[state]
            self.rules[state] = [end, *_OWN_RULES, *map(_without_dots, others)]

    def wrap(
        self,
        stream: Iterable[tuple[int, str, str]],
        name: str | None = None,
        filename: str | None = None,
    ) -> Iterator[Token]:
        """The pieces of a text as the parser takes them, each as Jinja writes it."""
        written = ((line, kind, _as_jinja_writes(kind, text)) for line, kind, text in stream)
        return super().wrap(written, name, filename)


def _without_dots(rule: _Rule) -> _Rule:
    """The rule itself; of names, one without "·", which is a letter for Jinja as for Unicode."""
    if rule.tokens != TOKEN_NAME:
        return rule
    return rule._replace(pattern=re.compile(rule.pattern.pattern.replace("·", "")))


def _as_jinja_writes(kind: str, text: str) -> str:
    if kind == TOKEN_OPERATOR:
        return SIGNS.get(text, text)
    if kind == TOKEN_INTEGER and "#" in text:
        base, digits = text.split("#")
        return _PREFIXES[base] + digits
    return text


class FormulaParser(Parser):
    """Makes the tree of a formula, or of a text with formulas in it."""

    def parse_pow(self) -> nodes.Expr:
        """A value or a power, with the signs before it.

        A sign before a power is of the whole power. A filter is of what stands before it, with its
        sign, as everywhere in Jinja.
        """
        lineno = self.stream.current.lineno
        signs = self._signs()
        node = self.parse_unary(with_filter=False)
        if self.stream.current.type != "pow":
            node, signs = self.parse_filter_expr(_signed(signs, node)), []
        if not self.stream.skip_if("pow"):
            return node
        return _signed(signs, nodes.Pow(node, self.parse_pow(), lineno=lineno))

    def _signs(self) -> list[Token]:
        found = []
        while self.stream.current.type in ("add", "sub"):
            found.append(next(self.stream))
        return found


def _signed(signs: list[Token], node: nodes.Expr) -> nodes.Expr:
    for sign in reversed(signs):
        kind = nodes.Neg if sign.type == "sub" else nodes.Pos
        node = kind(node, lineno=sign.lineno)
    return node
