"""Fuses in the drops, V+ between two supplies and an address by message, on the bench's screens."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bare_page import PlainFolder
from bench_of_family import looked_at, opening
from checked_by_axe import needs_axe

pytestmark = pytest.mark.browser
TEXT = """---
id: feeding
version: 1.0.0
title: Feeding
minutes: 20
network:
  family: devicenet
  rate: 125
  trunk:
    - {cable: thick, length: 60}
  taps: {at: '[5, 20, 40, 55]', drop: '[1, 2, 2, 1]', device: '["panel", "clamp", "gate", "lamp"]',
    current: '[0.3, 0.5, 0.5, 0.4]', address: '[0, 1, 2, 3]'}
  supplies: {at: '[10, 50]', name: '["first", "second"]', voltage: '[24, 24.6]', rating: '[8, 8]'}
  breaks: '[30]'
---
# Feeding

```exercise dark
kind: diagnosis
title: Something is dark
question: What is wrong?
marks: 5
scanner: panel
tap_fuse: 3
sections: yes
names: 3
equipment:
  - {device: gate, address_by_message: yes}
cases:
  - - {kind: touching, connector: gate, a: V+, b: V-}
    - {kind: fuse blown, connector: 'tap 3, drop'}
    - {kind: plus joined, piece: 'tap 2, right – tap 3, left'}
working: Look.
```
"""


@pytest.fixture
def opened(browser: Any, tmp_path: Path, page_folder: PlainFolder) -> Iterator[Any]:
    """A function that opens the lab at a size: its bare page; errors of it count."""
    with opening(browser, tmp_path, page_folder, TEXT) as open_:
        yield open_


@pytest.mark.parametrize("width", [1366, 400])
def test_a_fuse_is_replaced_with_a_word_of_caution_and_v_plus_is_broken(
    opened: Any, width: int
) -> None:
    needs_axe()
    bare = opened(width)
    frame = bare.put_on("dark")
    frame.get_by_text("V+ cut by plan", exact=True).wait_for()
    frame.get_by_role("button", name="tap 3", exact=True).click()
    repairs = frame.get_by_role("group", name="Repair", exact=True)
    repairs.get_by_text("tap 3, drop side, with its fuse", exact=True).click()
    repairs.get_by_text("A fuse blows for a reason: look for it first.").wait_for()
    looked_at(bare, f"feeding-fuse-{width}")
    repairs.get_by_role("button", name="Replace the fuse", exact=True).click()
    frame.get_by_text("replace the fuse of tap 3, drop: done.").first.wait_for()
    repairs.get_by_text("Cables here", exact=True).click()
    press = "Break V+ in tap 2, right – tap 3, left"
    repairs.get_by_role("button", name=press, exact=True).click()
    frame.get_by_text("break V+ in tap 2, right – tap 3, left: done.").first.wait_for()
    looked_at(bare, f"feeding-cables-{width}")
    assert repairs.get_by_role("button", name="Replace the fuse").count() == 1
    frame.get_by_role("button", name="panel, planned node 0, the scanner", exact=True).click()
    frame.get_by_label("Node that is told", exact=True).fill("63")
    frame.get_by_label("to be node", exact=True).fill("2")
    looked_at(bare, f"feeding-message-{width}")
    frame.get_by_role("button", name="Tell it by message", exact=True).click()
    frame.get_by_text("Not sent: without power nobody hears it.").first.wait_for()
