"""JSON routes, one file a resource."""
