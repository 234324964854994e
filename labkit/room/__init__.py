"""A class held from the trainer's machine: who joins, what is open, and what is handed in."""
