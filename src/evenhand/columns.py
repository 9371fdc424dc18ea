"""The array types that data travels in between the rooms."""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.int64]
Bytes: TypeAlias = npt.NDArray[np.uint8]
Bools: TypeAlias = npt.NDArray[np.bool_]
Words: TypeAlias = npt.NDArray[np.str_]

#: Slack in comparisons of times, ms: far below a tick, far above the noise of floating point,
#: so that "at most 20 ms" holds for a gap that is 20 ms on paper.
SLACK_MS = 1e-6
