"""How far two ways to one number may lie apart: each with its unit and its reason.

A tolerance is no tighter than processors differ and no looser than a fault would be. Depths are kept in whole
millimetres, so nobody can tell less than half a millimetre; a wrong formula misses by much more than that.
"""

HUNDREDTH_MM = 1e-5
"""Metres (square metres of a variance). Two ways to one depth in double precision, through factors of a covariance.
Processors, makes of linear algebra and numbers of threads sum in different order: 4e-8 m has been seen so."""

TENTH_MM = 1e-4
"""Metres. A bed that is asked: distances and covariances are then in single precision (24 bits), which between two
ways to ask has differed by up to 0.03 mm. A tenth of what depths are kept to."""

WHOLE_MM = 1
"""Millimetres. Depths rounded to whole millimetres: a half may go to either side."""

NANOMETRE = 1e-9
"""Metres. Plain sums and products of lengths up to hundreds of metres, which are held to 1e-13."""

MICROMETRE = 1e-6
"""Metres. Places in a national grid or on the ellipsoid: numbers of millions of metres are held to 1e-9, and
there and back again through a projection costs two or three figures."""

CHANCE_SETTLED = 1e-4
"""No unit. A chance that is learnt until the shares of mistaken and of rare readings move by less than a millionth:
the last step may fall on either side of that, and a chance moves by up to 40 times as much as a share of 3 %."""

SHARE = 1e-12
"""No unit. Weights and shares of one, from sums of a few terms, which are held to 1e-15."""

BEARING_DEG = 1e-6
"""Degrees. A bearing there and back again on the ellipsoid; at 200 m it is worth 3.5 micrometres."""

DRAWN_TENTH = 0.11
"""Units of a drawing: pixels on a screen, metres on a map. Lines are written to tenths, and a half may go to either
side; the hundredth above it is what the places of marks are written to."""
