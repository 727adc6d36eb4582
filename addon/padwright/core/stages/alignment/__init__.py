"""The impression scan laid on the base scan."""
