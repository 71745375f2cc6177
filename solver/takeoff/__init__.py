"""Takeoff: a building to pieces in order of standing."""
