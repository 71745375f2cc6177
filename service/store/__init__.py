"""Tables, mapping, repositories and the unit of work."""
