"""Sequencing: which bar when."""
