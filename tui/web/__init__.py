"""The screens in a browser: who may look, one process a viewer, the page around it."""
