"""Reading: an order document to a building, every fault at once."""
