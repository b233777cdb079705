"""The look back at stored sessions: pitches, metrics, curves, pressure paths, comparisons."""
