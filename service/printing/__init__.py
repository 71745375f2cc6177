"""PDF: labels and sheets."""
