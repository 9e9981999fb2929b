"""Answers as pictures, printed pages, plain data and sentences."""
