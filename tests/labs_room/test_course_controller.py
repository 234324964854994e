"""The controller's labs of the course against the standard that they teach."""

from course_draws import scenarios

from labkit.fieldbus.identifier61131 import Fault, name_problem

LAB = "controller-and-chassis"
DRAWS = 200


def test_the_proposed_names_are_judged_as_the_standard_does() -> None:
    findings = {
        None: "valid",
        Fault.DIGIT_FIRST: "digit first",
        Fault.SPACE: "space or other sign",
        Fault.HYPHEN: "space or other sign",
        Fault.CHARACTER: "space or other sign",
        Fault.DOUBLE_UNDERSCORE: "underscore in a wrong place",
        Fault.LAST_UNDERSCORE: "underscore in a wrong place",
        Fault.KEYWORD: "keyword",
    }
    pool = {text for each in scenarios(LAB, DRAWS) for text in each.names["judged"]}
    assert len(pool) == 18
    for text in pool:
        name, said = text.split("|")
        problem = name_problem(name)
        assert findings[problem.fault if problem else None] == said, name
