"""Mending artwork where the rule says so: each mend a file, always said and recorded."""
