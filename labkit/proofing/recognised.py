"""Which options somebody knows again in another draw: by what they read, not by the author's name.

An option whose text is drawn whole ("{{ names[0] }}") is another one to everybody, so that no hint
of a neighbour's and no habit leads to it. One that keeps a word of its own ("{{ ampere }} A, fast")
is known again.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Final

from labkit.doors.check import HasOptions
from labkit.proofing.sample import Kept

_WORD: Final = re.compile(r"\w+")


def recognised(kept: Sequence[Kept]) -> frozenset[str] | None:
    """The names of the options that keep their text, or a word of their own, in all these draws.

    None where the kind does not tell its options.
    """
    texts: defaultdict[str, list[str]] = defaultdict(list)
    for tried in kept:
        if not isinstance(tried.check, HasOptions):
            return None
        for option in tried.check.options(*tried.made(), tried.right):
            texts[option.name].append(option.text)
    words = {name: _kept_words(each) for name, each in texts.items()}
    found = set()
    for name, each in texts.items():
        others = frozenset[str]().union(*(words[other] for other in words if other != name))
        if len({*each}) == 1 or words[name] - others:
            found.add(name)
    return frozenset(found)


def _kept_words(texts: Sequence[str]) -> frozenset[str]:
    """The words that are in every one of these."""
    return frozenset.intersection(*(frozenset(_WORD.findall(text.lower())) for text in texts))
