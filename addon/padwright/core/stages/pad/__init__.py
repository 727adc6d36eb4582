"""The pad between base and body."""
