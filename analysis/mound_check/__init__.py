"""The yearly check: a known mass over marked spots and up a list of masses.

`placements` reads the list and finds its stretches in a recording, `errors`
tells how far each reading is off, `calibration` fits the matrix that would
mend it (offered, never applied), `drawing` plots.
"""
