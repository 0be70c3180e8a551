"""Charts to print and measure: which patches, and how they lie on the film."""
