"""The book: what each thing's events, in the order in which they happened, make of it; pure, for writer and rebuild alike."""
