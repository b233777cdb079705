"""The way a feed goes: bytes in, pitch records out.

The flat modules of this package are the core: plain synchronous code without
a socket, clock, file, thread or screen. ``sources``, ``sinks``, ``recording``
and ``monitor`` are the shells around it.
"""

__version__ = "0.1.0"
