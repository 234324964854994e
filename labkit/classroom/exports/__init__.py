"""Results handed on: for people, for other programs, on paper."""
