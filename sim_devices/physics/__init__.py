"""What warms, cools, falls, shakes and evaporates: curves of true quantities."""
