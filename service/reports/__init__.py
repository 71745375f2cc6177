"""Tables of a plan for spreadsheets, and its summary in words."""
