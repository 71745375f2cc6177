"""One file a change of shape."""
