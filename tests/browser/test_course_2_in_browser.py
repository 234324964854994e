"""The other half of the labs that have every kind of exercise, clicked through in JupyterLab."""

from __future__ import annotations

import pytest
from course import IN_THE_NOTEBOOK
from course_click_through import click_through
from driving import Server, Station

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("lab", IN_THE_NOTEBOOK[1::2])
def test_a_lab_is_clicked_through(kept: Station, server: Server, lab: str) -> None:
    click_through(kept, server, lab)
