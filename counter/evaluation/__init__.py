"""Counts against the truth of photos: measures and plots."""
