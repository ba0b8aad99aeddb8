"""Names for the arrays that everything passes about."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
"""Numbers in double precision."""
Index = NDArray[np.intp]
"""Positions in another array."""
Flags = NDArray[np.bool_]
"""Yes or no for each."""
