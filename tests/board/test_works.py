"""How long the rest of long work takes is told by the speed since the first step."""

from __future__ import annotations

import threading

import pytest

from labkit.board import works as works_module
from labkit.board.works import Works
from labkit.classroom.progress import Progress


def test_the_rest_is_told_by_the_speed_since_the_first_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now, told, go_on = [100.0], threading.Event(), threading.Event()
    monkeypatch.setattr(works_module, "monotonic", lambda: now[0])
    works, left = Works(), []

    def look() -> None:
        work = works.last("class")
        assert work is not None
        left.append(work["left"])

    def work(progress: Progress) -> dict[str, object]:
        assert go_on.wait(120)
        for done, at in [(0, 109.0), (1, 110.0), (2, 112.0)]:
            now[0] = at
            progress(done, 5)
            look()
        told.set()
        return {}

    works.begin("class", "Dealing", "Mira", work)
    look()
    go_on.set()
    assert told.wait(120)
    # 9 s of reading first, then 1 s and 2 s a workbook: 4 and 3 are left.
    assert left == [None, None, 4.0, 4.5]
