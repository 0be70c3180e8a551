"""From a colour to inks: the ink model solved backwards."""
