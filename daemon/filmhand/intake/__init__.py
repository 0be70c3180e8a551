"""What is in the folders, what has settled, claiming it, reading its ticket."""
