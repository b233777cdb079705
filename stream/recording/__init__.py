"""Recordings and sessions on disk: crash-safe to write, safe to read whatever became of the file.

``container`` says how messages lie in an MCAP file, ``durable`` puts bytes on
disk all or nothing, ``intake`` is the bounded queue between the feed and the
disk, ``writer`` puts the three together in a thread of its own, ``plain``
writes what is there at once. ``reader`` reads, over ``records`` whatever
became of the bytes, and ``replay`` sends it through the core; ``start`` is
what a run began with; ``session`` is the folder that holds everything of a
session.
"""
