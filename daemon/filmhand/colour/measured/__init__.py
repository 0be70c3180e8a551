"""A printed chart's measurements: what instruments write, read and judged."""
