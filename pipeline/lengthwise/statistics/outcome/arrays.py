"""Names of array types."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]
Index = NDArray[np.int64]
Flags = NDArray[np.bool_]
