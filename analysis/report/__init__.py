"""The report of a session, or of several: one HTML file that needs nothing from outside."""
