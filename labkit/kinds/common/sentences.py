"""Sentences made of pieces."""

from __future__ import annotations


def capital(sentence: str) -> str:
    """The sentence with a capital letter at its start."""
    return sentence[:1].upper() + sentence[1:]
