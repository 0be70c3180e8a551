"""Threshold screens and the bits they make."""
