"""What passes between machines, and how a file is written whole."""
