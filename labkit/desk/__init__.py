"""The instructor's desk: what the notebooks in `instructors/` are made of, as ipywidgets."""

from labkit.errors import sentences

try:
    from labkit.desk.class_day import ClassDay
    from labkit.desk.debrief import Debrief
except ModuleNotFoundError as error:
    # A notebook shows this as a sentence, where an error of its own would be a page of code.
    raise SystemExit(" ".join(sentences(error))) from None

__all__ = ["ClassDay", "Debrief"]
