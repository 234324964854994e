"""What is told of a definition: by reading it, by one draw, by proof-reading a few."""

from __future__ import annotations

from labkit.lab.draw import draw
from labkit.lab.reading import read_lab_text
from labkit.language.problems import DefinitionError, Problem
from labkit.proofing import proof


def told_of(text: str, draws: int = 0) -> tuple[Problem, ...]:
    """The problems of a text, the first that are found: nothing where it is sound."""
    try:
        lab = read_lab_text(text)
        if draws:
            found = proof(lab, draws).findings
            return tuple(Problem(item.place, item.sentence, item.mend) for item in found)
        scenario = draw(lab, "beginner")
        for part in lab.body:
            if hasattr(part, "render"):
                part.render(scenario.names)
        for exercise in lab.exercises:
            _ = scenario.prepare(exercise).key
            texts = [exercise.title, exercise.question, exercise.working]
            for prose in (*texts, *(hint.text for hint in exercise.hints)):
                prose.render(scenario.names)
    except DefinitionError as error:
        return error.problems
    return ()
