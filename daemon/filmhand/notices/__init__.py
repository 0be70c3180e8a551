"""Telling people: what stops the line at once, the night in a report."""
