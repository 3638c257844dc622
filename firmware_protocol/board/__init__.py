"""What runs on the board alone: the loop, the pins, the port, the flash."""
