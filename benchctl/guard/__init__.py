"""Limits that the host watches, and what is said and done when they are passed."""
