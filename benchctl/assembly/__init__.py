"""Puts a bench together: link, watcher, runner and logbook, on a real port or on the simulated bench."""
