"""Cut paths of a gang sheet: an offset outline around every copy, and the files that bring it to a cutting table."""
