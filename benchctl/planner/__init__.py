"""What to do next on the glass: marks, progress, advice."""
