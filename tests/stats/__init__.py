"""Published formulae against published numbers."""
