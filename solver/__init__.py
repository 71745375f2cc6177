"""Pure planning: data in, plan out. Holds nothing, so that a page loads without any solver library."""
