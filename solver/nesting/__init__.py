"""Nesting: pieces to bars, with a bound."""
