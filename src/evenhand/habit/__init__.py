"""What this drummer usually does, and the drift around it."""
