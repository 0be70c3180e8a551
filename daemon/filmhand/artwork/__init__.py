"""Opening every format safely; ground and size."""
