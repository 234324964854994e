"""What passes between machines, the answer journal, and how a file is written whole."""
