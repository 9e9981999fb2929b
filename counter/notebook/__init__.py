"""What a person keeps, in one SQLite file."""
