"""The ink model fitted to a printed and measured chart."""
