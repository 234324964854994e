"""The instructor's desk: what the notebooks in `instructors/` are made of, as ipywidgets."""

from labkit.desk.class_day import ClassDay
from labkit.desk.debrief import Debrief

__all__ = ["ClassDay", "Debrief"]
