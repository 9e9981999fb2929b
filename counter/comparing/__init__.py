"""A count against what the round should hold."""
