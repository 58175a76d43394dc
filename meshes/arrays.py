"""Names for arrays by what they hold; shapes are told where each is used."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Indices = NDArray[np.int32]
"""As the sparse solver keeps its row numbers."""
