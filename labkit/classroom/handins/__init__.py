"""What comes in: read as data, received once, and decided which of it counts."""
