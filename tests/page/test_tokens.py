"""The tokens: light and dark say the same things, and what they colour can be read."""

from __future__ import annotations

import re
from itertools import product

import pytest

from labkit.front_end.page_modules import TOKENS

BLOCK = re.compile(r"([^{}]+)\{([^{}]*)\}")
TEXT = re.sub(r"/\*.*?\*/", "", TOKENS.read_text("utf-8"), flags=re.DOTALL)
BLOCKS = [dict(re.findall(r"(--tk-[\w-]+): ([^;]+);", found[2])) for found in BLOCK.finditer(TEXT)]
LIGHT, DARK, DARK_NOTEBOOK = BLOCKS[:3]
WRITTEN = ("text", "soft", "accent", "right", "partly", "wrong")
UNDER = ("ground", "paper", "shade")


def _luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    digits = "".join(d * 2 for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    dark, light = sorted((_luminance(one), _luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_dark_is_the_same_for_a_page_and_for_a_notebook() -> None:
    assert DARK == DARK_NOTEBOOK
    assert set(DARK) == set(LIGHT)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_all_writing_can_be_read(theme: dict[str, str]) -> None:
    faint = {
        (word, under): contrast(theme[f"--tk-{word}"], theme[f"--tk-{under}"])
        for word, under in product(WRITTEN, UNDER)
    }
    assert {pair: ratio for pair, ratio in faint.items() if ratio < 4.5} == {}
    assert contrast(theme["--tk-on-accent"], theme["--tk-accent"]) >= 4.5
