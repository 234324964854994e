"""Half of the labs that have every kind of exercise, clicked through in JupyterLab."""

from __future__ import annotations

import pytest
from course import IN_THE_NOTEBOOK, labs_of_the_course
from course_click_through import click_through
from driving import Server, Station

from labkit.classroom.handins.demo import LAB
from labkit.lab.library import lab_library
from labkit.lab.reading import read_lab

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("lab", IN_THE_NOTEBOOK[::2])
def test_a_lab_is_clicked_through(kept: Station, server: Server, lab: str) -> None:
    click_through(kept, server, lab)


def test_every_kind_of_the_course_is_worked_at_in_the_notebook() -> None:
    def kinds(lab: str) -> set[str]:
        return {exercise.kind for exercise in read_lab(lab_library() / lab / "lab.md").exercises}

    everywhere = set().union(*map(kinds, labs_of_the_course()))
    assert everywhere == set().union(*map(kinds, (LAB, *IN_THE_NOTEBOOK)))
