"""Small elevation matrices published with other programs' tests."""

import numpy as np

# richdem tests/depressions/testdem1 (cell 3 m)
RICHDEM = np.array(
    [
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 2, 2, 2, 2, 0, 0, 0, 0, 0],
        [0, 2, 0, 0, 2, 2, 2, 2, 0, 0],
        [0, 2, 2, 2, 2, 0, 0, 2, 0, 0],
        [0, 0, 2, 0, 2, 0, 0, 2, 0, 0],
        [0, 0, 2, 2, 2, 0, 0, 2, 0, 0],
        [0, 0, 0, 0, 2, 2, 2, 2, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
    ],
    np.float32,
)
RICHDEM_FILLED = np.array(
    [
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 2, 2, 2, 2, 0, 0, 0, 0, 0],
        [0, 2, 2, 2, 2, 2, 2, 2, 0, 0],
        [0, 2, 2, 2, 2, 2, 2, 2, 0, 0],
        [0, 0, 2, 2, 2, 2, 2, 2, 0, 0],
        [0, 0, 2, 2, 2, 2, 2, 2, 0, 0],
        [0, 0, 0, 0, 2, 2, 2, 2, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
        [0, 0, 0, 0, 0, 0, 0, 0, 0, 0],
    ],
    np.float32,
)

# Fill-Spill-Merge unit tests (Barnes and others, 2020): two depressions nested in a third
NESTED = np.array(
    [
        [-9, -9, -9, -9, -9, -9, -9, -9, -9, -9],
        [-9, 9, 9, 9, 9, 9, 9, 9, 9, -9],
        [-9, 9, 8, 8, 8, 8, 7, 6, 9, -9],
        [-9, 9, 8, 7, 8, 7, 6, 5, 9, -9],
        [-9, 9, 8, 7, 8, 6, 5, 4, 9, -9],
        [-9, 9, 8, 8, 8, 5, 4, 3, 9, -9],
        [-9, 9, 7, 6, 5, 4, 3, 2, 9, -9],
        [-9, 9, 7, 6, 5, 4, 3, 1, 9, -9],
        [-9, 9, 9, 9, 9, 9, 9, 9, 9, -9],
        [-9, -9, -9, -9, -9, -9, -9, -9, -9, -9],
    ],
    np.float32,
)

# landlab tests/components/depression_finder, test_three_pits: a plane that falls west, with three holes
RAMP_LAKES = np.tile(np.arange(10, dtype=np.float32), (10, 1))
RAMP_LAKES[3:5, 3] = 1
RAMP_LAKES[3, 7] = 4
RAMP_LAKES[7, 4:6] = 1
