"""From a photo to a count: how many stitches stand around its rim, and how sure that is."""
