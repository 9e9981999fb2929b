"""Everyday wordings as rules, one module a theme."""
