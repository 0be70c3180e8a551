"""Coverage (knockout), ink planes, underbase, ink limit."""
