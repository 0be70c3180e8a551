"""Deciding what to do next (pure), workers, the loop."""
