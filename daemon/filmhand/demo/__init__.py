"""Artwork of an invented rowing club, drawn by code, for a first look at the program."""
