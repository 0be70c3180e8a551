"""Work on one file or one sheet in a child process, and what shuts it in."""
