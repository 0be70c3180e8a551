"""Made artworks as customers send them, each with known faults at known places, half of them without fault."""
