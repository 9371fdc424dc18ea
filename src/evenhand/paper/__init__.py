"""What is written down: change log, summary, tables."""
