"""filmhand: the night prepress hand of a film-transfer print shop."""
