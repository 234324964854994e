"""CANopen on the virtual bench: its set-up, nodes and manager, own faults and repairs."""
