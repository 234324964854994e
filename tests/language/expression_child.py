"""Works out the expressions that come in, a JSON text a line, with little memory: see its test.

Each answer is a line of JSON: seconds of the processor, MB by which the peak has grown, what came.
"""

import json
import resource
import sys
import time

from labkit.language.expression import Language
from labkit.language.problems import DefinitionError, Place

ROOM = 512 * 2**20
NAMES = {
    "text": "abc",
    "long": "ab c" * 2_500,
    "wide": "\N{GRINNING FACE}" * 40_000,
    "whole": 5,
    "many": list(range(5_000)),
    "mane": [float(number) for number in range(5_000)],
    "few": [1, 2.5],
    "words": [f"w{number}" for number in range(3_000)],
    "groups": [{"a": number, "b": "x" * 20} for number in range(1_000)],
    "nested": [list(range(100)) for _ in range(90)],
}


def worked_out(text: str) -> str:
    language, place = Language(), Place("lab.md", 7)
    values = language.values(NAMES)
    try:
        if "{%" in text or "{{" in text:
            return "= " + language.prose(text, place, NAMES).render(values)[:40]
        return "= " + repr(language.formula(text, place, NAMES).evaluate(values))[:40]
    except DefinitionError as error:
        return str(error)


def peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (ROOM, ROOM))
    worked_out("1 + 1")
    before = peak()
    for line in sys.stdin:
        began = time.process_time()
        came = worked_out(json.loads(line))
        print(json.dumps([time.process_time() - began, peak() - before, came]), flush=True)


if __name__ == "__main__":
    main()
