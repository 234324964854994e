"""`python -m labkit`, for computers on which the command itself may not be started."""

from labkit.cli import main

main()
