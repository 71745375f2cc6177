"""Orders from other forms: spreadsheet, building model."""
