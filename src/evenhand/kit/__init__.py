"""What was struck and what it does: kit maps and roles."""
