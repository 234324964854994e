"""The marks of what came in, by calculation or by a person, and the results they add up to."""
