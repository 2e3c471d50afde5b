"""The one kind of array that figures come in."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
