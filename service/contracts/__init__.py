"""What goes over HTTP that is not a stage's own job or result."""
