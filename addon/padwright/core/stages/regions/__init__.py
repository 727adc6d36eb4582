"""The pad cut into bodies of one firmness each."""
