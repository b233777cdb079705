"""The commands of ``moundfeed``: one module for each, and what several of them share."""
