"""The closed loop: how many stitches stand on a rim whose places carry evidence, and where."""
