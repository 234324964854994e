"""DeviceNet (IEC 62026-3): the network as planned, its cable, power and addresses."""
