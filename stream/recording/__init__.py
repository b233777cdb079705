"""Recordings and sessions on disk: crash-safe to write, safe to read whatever became of the file.

``container`` says how messages lie in an MCAP file, ``durable`` puts bytes on
disk all or nothing, ``intake`` is the bounded queue between the feed and the
disk, ``writer`` puts the three together in a thread of its own; ``reader``
and ``damage`` read; ``start`` is what a run began with; ``session`` is the
folder that holds everything of a session.
"""
