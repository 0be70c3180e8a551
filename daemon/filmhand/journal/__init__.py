"""The durable record, and reconciling it with the folders after a crash."""
