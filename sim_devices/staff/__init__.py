"""The people of a ward as SimPy processes: what they do is told as deeds."""
