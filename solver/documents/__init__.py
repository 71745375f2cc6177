"""Documents: the rows of labels, sheets and lists; no PDF here."""
