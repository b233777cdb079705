"""The live screens of the operator and the coach, and their dialogs."""
