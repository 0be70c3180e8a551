"""For whoever keeps the computer: doctor, backup, restore."""
