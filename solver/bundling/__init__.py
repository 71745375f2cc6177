"""Bundling: the order of standing, reversed, cut into stacks."""
