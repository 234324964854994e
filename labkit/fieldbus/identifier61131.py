"""Identifiers of IEC 61131-3: what a name of a module, variable or program may be.

Letters A to Z, digits and underscores; the first character a letter or an underscore; no two
underscores together, none at the end; capital and small letters are the same; keywords are not
names. Rules and keywords are from memory of the standard. How many characters count is left to the
controller's maker, so no limit is set here but a given one.
"""

import re
from dataclasses import dataclass
from enum import Enum

from labkit.fieldbus.checked import whole

LONGEST = 40
"""Our own bound, which an exercise may lower; the standard leaves it to the maker."""

_KEYWORDS = """
    ABS AND ANY ARRAY AT BOOL BY BYTE CASE CONFIGURATION CONSTANT DATE DATE_AND_TIME DINT DO DT
    DWORD ELSE ELSIF END_CASE END_CONFIGURATION END_FOR END_FUNCTION END_FUNCTION_BLOCK END_IF
    END_PROGRAM END_REPEAT END_RESOURCE END_STRUCT END_TYPE END_VAR END_WHILE EXIT FALSE FOR FROM
    FUNCTION FUNCTION_BLOCK IF INT INTERVAL LINT LREAL LWORD MOD NOT OF ON OR PRIORITY PROGRAM
    READ_ONLY READ_WRITE REAL REPEAT RESOURCE RETAIN RETURN SINGLE SINT STRING STRUCT TASK THEN
    TIME TIME_OF_DAY TO TOD TRUE TYPE UDINT UINT ULINT UNTIL USINT VAR VAR_ACCESS VAR_EXTERNAL
    VAR_GLOBAL VAR_INPUT VAR_IN_OUT VAR_OUTPUT VAR_TEMP WHILE WITH WORD WSTRING XOR
"""
KEYWORDS = frozenset(_KEYWORDS.split())
"""Keywords that are no names, in capitals (from memory of IEC 61131-3; not complete)."""

_WORD = re.compile(r"[A-Za-z0-9_]+")


class Fault(Enum):
    """What is wrong with a name."""

    EMPTY = "empty"
    SPACE = "space"
    HYPHEN = "hyphen"
    CHARACTER = "character"
    DIGIT_FIRST = "digit first"
    DOUBLE_UNDERSCORE = "double underscore"
    LAST_UNDERSCORE = "underscore at the end"
    KEYWORD = "keyword"
    TOO_LONG = "too long"


@dataclass(frozen=True, slots=True)
class NameProblem:
    """One thing wrong with a name, and a sentence with a mend."""

    fault: Fault
    sentence: str


def name_problem(name: str, longest: int = LONGEST) -> NameProblem | None:
    """Why `name` is no identifier of at most `longest` characters; None where it is one.

    >>> name_problem("Scanner_1") is None
    True
    >>> name_problem("1st_scanner").fault
    <Fault.DIGIT_FIRST: 'digit first'>
    """
    whole(longest, "the longest name", 1, 1000)
    if not name:
        return NameProblem(Fault.EMPTY, "There is no name yet.")
    if len(name) > longest:
        sentence = f"'{name[:20]}…' has {len(name)} characters; at most {longest} are allowed."
        return NameProblem(Fault.TOO_LONG, sentence)
    return _character_problem(name) or _order_problem(name)


def same_name(one: str, other: str) -> bool:
    """Whether two names are one and the same: capital and small letters do not differ."""
    return one.upper() == other.upper()


def _character_problem(name: str) -> NameProblem | None:
    if any(letter.isspace() for letter in name):
        return NameProblem(Fault.SPACE, f"'{name}' holds a space; write an underscore instead.")
    if "-" in name:
        sentence = f"'{name}' holds a hyphen, which is a minus sign there; write an underscore."
        return NameProblem(Fault.HYPHEN, sentence)
    if not _WORD.fullmatch(name):
        odd = next(letter for letter in name if not _WORD.fullmatch(letter))
        sentence = f"'{name}' holds '{odd}'; only letters A to Z, digits and underscores may be."
        return NameProblem(Fault.CHARACTER, sentence)
    return None


def _order_problem(name: str) -> NameProblem | None:
    if name[0].isdigit():
        sentence = f"'{name}' begins with a digit; begin with a letter or an underscore."
        return NameProblem(Fault.DIGIT_FIRST, sentence)
    if "__" in name:
        sentence = f"'{name}' has two underscores together; write one."
        return NameProblem(Fault.DOUBLE_UNDERSCORE, sentence)
    if name.endswith("_"):
        return NameProblem(Fault.LAST_UNDERSCORE, f"'{name}' ends with an underscore; drop it.")
    if name.upper() in KEYWORDS:
        sentence = f"'{name}' is a keyword of the language; add what it stands for."
        return NameProblem(Fault.KEYWORD, sentence)
    return None
