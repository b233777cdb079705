"""The numbers do not depend on how many threads the matrix library would use."""

import os
import subprocess
import sys

LOADS = """
import hashlib
from stream.feet import feet_model
from stream.files import load_layout
import numpy as np

samples = np.random.default_rng(1).normal(0.0, 300.0, (2001, 150))
loads = feet_model(load_layout("tiled")).loads(samples, np.zeros(150), 900, 200.0)
print(hashlib.sha256(loads.tobytes()).hexdigest())
"""


def digest(threads: int) -> str:
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": str(threads)}
    done = subprocess.run(
        [sys.executable, "-c", LOADS], env=environment, capture_output=True, text=True, check=True
    )
    return done.stdout


def test_loads_of_many_channels_are_the_same_with_one_thread_and_with_several() -> None:
    assert digest(1) == digest(2) == digest(3)
