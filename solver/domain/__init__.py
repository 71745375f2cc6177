"""Frozen nouns of the plant, one a file. They hold data and simple facts about it, no search."""
