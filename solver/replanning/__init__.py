"""Replanning: what cannot change, and what is left to do."""
