"""A bench that stands in for hardware: simulated pins around the real board controller."""
