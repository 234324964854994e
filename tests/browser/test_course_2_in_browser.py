"""A quarter of the course's labs, clicked through in the browser."""

from __future__ import annotations

import pytest
from course import share_of_the_course
from course_click_through import click_through
from driving import Server, Station

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("lab", share_of_the_course(2, 4))
def test_a_lab_is_clicked_through(kept: Station, server: Server, lab: str) -> None:
    click_through(kept, server, lab)
