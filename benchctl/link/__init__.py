"""From bytes on a cable to readings, and from the engine's wishes to bytes."""
