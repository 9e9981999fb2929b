"""Rimtally: counts the stitches around the rim of a crocheted round from a photo."""

from counter.answer import Count, Doubt, InProgress, Refusal

__all__ = ["Count", "Doubt", "InProgress", "Refusal"]
