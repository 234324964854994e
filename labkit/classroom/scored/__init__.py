"""A class scored: from its hand-ins to all that is written of them."""
