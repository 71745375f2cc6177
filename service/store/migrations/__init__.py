"""The shapes that the store has had, and how to go from one to the next."""
