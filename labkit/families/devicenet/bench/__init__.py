"""DeviceNet on the virtual bench: its set-up, stations and scanner, own faults and repairs."""
