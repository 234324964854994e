"""Who is who: what is held of a person, its erasure, and an id that was corrected."""
