"""axe-core in a page: what stands in the way of somebody who does not see or does not point.

The file comes with the checks of the page modules (`npm ci` in `tests/front_end`); nothing of it
is in the product.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

AXE = Path(__file__).parents[1] / "front_end" / "node_modules" / "axe-core" / "axe.min.js"
RUN = """async (within) => {
  const { violations } = await axe.run(within || document, { resultTypes: ['violations'] });
  const where = ({ html, target }) => `${html.slice(0, 160)} (${target})`;
  return violations.map(({ id, nodes }) => `${id}: ${nodes.slice(0, 3).map(where).join(' | ')}`);
}"""


def needs_axe() -> None:
    """Skip where axe is not there, or fail where every test is asked for."""
    if AXE.exists():
        return
    if os.environ.get("LABKIT_REQUIRE_ALL"):
        pytest.fail("no axe-core: run npm ci in tests/front_end")
    pytest.skip("no axe-core: run npm ci in tests/front_end")


def findings(page: Any, within: str = "") -> list[str]:
    """What axe finds on the page as it is, or only in a part of it that alone has changed.

    It is put in by the browser, past the page's policy.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text("utf-8"))
    return list(page.evaluate(RUN, within))
