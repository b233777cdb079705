"""Stored sessions: reading, measuring again, trends, measurement error, comparisons, joins."""
