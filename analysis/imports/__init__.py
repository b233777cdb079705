"""Other programs' files as recordings: CSV through a mapping, C3D by its own force platforms."""
