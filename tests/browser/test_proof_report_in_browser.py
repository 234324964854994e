"""What proof-reading writes for a colleague, in a real browser: read, unfolded, by everybody."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import findings, needs_axe

from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab, read_lab_text
from labkit.language.problems import DefinitionError
from labkit.proofing import proof
from labkit.proofing.report_page import report_page, unreadable_page

sys.path.append(str(Path(__file__).parents[1] / "proofing"))

from broken import SOUND

QUESTION = "question: How much is lost along one conductor?\n"
WIDE = f"""\
question: |
  How much is lost along one conductor? `{"A.long.name." * 20}`

  | {"a wide heading | " * 20}
  |{"---|" * 20}
  | {"1 | " * 20}

      {"code " * 60}
"""
ALWAYS = SOUND.replace("answer: loss\n", "answer: 4.65\n").replace(QUESTION, WIDE)
ACCEPTED = "accepted: [{finding: same-answer, because: a limit of the cable}]\nunit: V\n"
WIDE_LINE = "  lost: " + " + ".join(f"a_long_name_{n}" for n in range(30))


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A report with findings and accepted ones, one with a picture, one on an unreadable lab."""
    folder = tmp_path_factory.mktemp("reports")
    texts = {
        "found": report_page(proof(read_lab_text(ALWAYS), 20), {"lab.md": ALWAYS}),
        "accepted": report_page(
            proof(read_lab_text(ALWAYS.replace("unit: V\n", ACCEPTED)), 20), {"lab.md": ALWAYS}
        ),
        "network": report_page(proof(read_lab(lab_library() / "plan-the-trunk" / "lab.md"), 4), {}),
    }
    broken = folder / "lab.md"
    broken.write_text(SOUND.replace("let:\n", f"let:\n{WIDE_LINE}\n"), "utf-8")
    with pytest.raises(DefinitionError) as error:
        read_lab(broken)
    texts["unreadable"] = unreadable_page(error.value, broken)
    written = {name: folder / f"{name}.html" for name in texts}
    for name, text in texts.items():
        written[name].write_text(text, "utf-8")
    return written


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1366, 400])
def test_nothing_stands_in_the_way_of_anybody(
    pages: dict[str, Path], devices: Callable[..., Any], scheme: str, width: int
) -> None:
    needs_axe()
    page = devices(width, here="file:", color_scheme=scheme)
    for name, file in pages.items():
        page.goto(file.as_uri())
        for fold in page.locator("summary").all():
            fold.click()
        assert findings(page) == [], name
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
