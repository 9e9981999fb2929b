"""What is left out for speed, and how much may be lost by it.

None of these numbers changes what a count says beyond :data:`LOST_SHARE`; they
were chosen by their time on the sample photos.
"""

from __future__ import annotations

#: Largest share of the posterior that may be lost to what is left out.
LOST_SHARE = 1e-6
#: What is left out at first, as a share of the sum over loops: at the start, and
#: at either edge of each window.
START_SHARE, EDGE_SHARE = 1e-9, 1e-10
#: Nothing is left out on loops of so few places.
EXACT_PLACES = 48
#: Most multiplications for the sums over one loop; where it would take more, on
#: long rims without clear evidence, places are taken together in pairs ...
MOST_PRODUCTS = 1.5e9
#: ... as long as the supposed width stays this many places.
THINNEST_PLACES = 5.0
#: Rows of a block of a banded matrix: small wastes calls, large wastes zeros.
BLOCK_ROWS = 16
#: Most that is kept of a forward sweep at once, in bytes.
SWEEP_BYTES = 64e6
#: How many possible first gaps are followed at a time, and at most, for the best loop ...
STARTS_AT_ONCE, MOST_STARTS = 16, 48
#: ... which ends where all others together hold less than this share.
ASIDE_SHARE = 1e-3
