"""What is true and what to do about it: pure, deterministic, without clock, thread, file or network."""
