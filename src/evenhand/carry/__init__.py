"""The map of time that carries every drum event, and what came of it."""
