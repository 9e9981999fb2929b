"""Training of the networks that find a piece and follow its rim."""
