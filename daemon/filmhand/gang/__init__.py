"""Outline, nest, compose."""
