"""What the program costs and how right it is, measured."""

import stream  # noqa: F401  (first: it holds the matrix library to one thread)
