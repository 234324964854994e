"""What an instructor reads when something is wrong: a sentence, never a traceback."""


class ClassError(Exception):
    """A sentence that says what is wrong, where, and what to do."""
