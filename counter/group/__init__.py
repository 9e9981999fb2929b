"""Photos of many makers and rounds: matched, counted, held against one plan, and whose doing it is."""
