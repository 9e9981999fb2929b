"""Things of known size in a photo, and what lengths say about a piece."""
