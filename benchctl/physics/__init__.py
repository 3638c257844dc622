"""The mechanics of the lap: plain numbers and arrays in SI, units in the names, sources in the docstrings."""
