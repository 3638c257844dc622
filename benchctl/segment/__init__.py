"""One timed segment as a state machine: events in, commands out, time as an argument."""
