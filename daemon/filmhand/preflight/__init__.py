"""One check a file; the report."""
