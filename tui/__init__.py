"""The faces: the screens in a terminal or a browser, and the commands; nothing is computed here."""
