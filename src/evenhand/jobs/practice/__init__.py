"""Practice takes over days: figures of each, and how they run."""
