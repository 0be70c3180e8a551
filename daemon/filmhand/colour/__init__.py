"""Ink model, its inverse, ICC in and out."""
