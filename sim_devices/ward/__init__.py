"""What a simulated ward is made of, and everything that can be done in it."""
