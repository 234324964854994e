"""A real training rig beside its bench: faults by hand, and what real instruments may read."""
