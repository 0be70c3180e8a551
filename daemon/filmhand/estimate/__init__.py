"""Ink, powder, film, minutes, money."""
