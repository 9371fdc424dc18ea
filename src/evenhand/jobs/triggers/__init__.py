"""Trigger data: a take with every misfire taken out, mapped and timed to the sample."""
