"""Loading: bundles on decks in reverse order of need."""
