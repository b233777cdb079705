"""The study bench: does force go with an outcome, and can the mound be believed?

One module for each question. Every result is a frozen dataclass whose fields are plain
numbers, text and lists, so that it becomes JSON as it stands, and carries a ``reading``: the
same result in plain words with its limits.

``table``          reading and checking the data
``effect``         within-pitcher and between-pitcher slopes
``influence``      the same with one pitcher left out at a time
``correlation``    correlation for repeated measures
``reliability``    intraclass correlation, standard error of measurement, detectable change
``agreement``      limits of agreement with a reference
``alignment``      putting two recordings on one clock; ``traces`` compares them
``waveforms``      whole force curves compared (needs the optional library)
``planning``       how many pitchers and pitches a study needs
``report``         the results as one self-contained page
"""
