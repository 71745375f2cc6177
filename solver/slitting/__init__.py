"""Slitting: strips across a coil."""
