"""The faces: command line and web page."""
