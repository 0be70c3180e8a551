"""Colour profiles written by our own ink models (ICC.1:2010)."""
