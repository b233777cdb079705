"""The way a feed goes: bytes in, pitch records out.

The flat modules of this package are the core: plain synchronous code without
a socket, clock, file, thread or screen. ``sources``, ``sinks``, ``recording``
and ``monitor`` are the shells around it.
"""

import os

# The last bit of a matrix product depends on how many threads share it, and records must not
# depend on the computer's cores. For matrices as small as these one thread is also the quickest.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

__version__ = "0.1.0"
