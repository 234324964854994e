"""Half of the course's labs, each looked at and clicked through on its page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from checked_by_axe import needs_axe
from course import CourseDesk, share_of_the_course
from course_at_the_page import look_and_click_through
from page_host import LocalHost

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("lab", share_of_the_course(2, 2))
def test_a_lab_is_clicked_through(host: LocalHost, browser: Any, tmp_path: Path, lab: str) -> None:
    needs_axe()
    look_and_click_through(host, browser, CourseDesk.sit_down(tmp_path / "class", lab))
