"""A lab definition: reading it, drawing a scenario, the exercise kinds, checking an answer."""
