"""Panel faces cut to length from coils: one batch a group, one coil a face, little left that nobody can use."""
