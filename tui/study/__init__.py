"""The study bench's face: its questions, told once for the command line and for the screen."""
