"""The virtual bench of a Modbus line: conductors, levels and bias, the line in motion, faults."""
