"""Exercises of many small answers: in practice the page also marks each of them."""

from __future__ import annotations

from typing import Any

from labkit.exchange.journal import ExerciseRecord
from labkit.lab.kinds import check_for
from labkit.station.widgets.exercise import ExerciseWidget


class MarkedExercise(ExerciseWidget):
    """Adds to a practice verdict how each cell stands; the kind's check has `states`."""

    def _verdict(self, record: ExerciseRecord) -> dict[str, Any] | None:
        told = super()._verdict(record)
        if told is None or self._practice is None:
            return told
        check: Any = check_for(self._exercise["kind"])
        states = check.states(self._exercise["ask"], self._practice["key"], record.answer)
        return {**told, "cells": states}
