"""What is made of measured pitches: comparison, review, reports, statistics, files for others."""
