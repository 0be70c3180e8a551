"""TIFF bytes, publishing, notes, proofs."""
