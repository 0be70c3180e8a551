"""Proofs: pictures of a delivered sheet, made from the very dots in its files."""
