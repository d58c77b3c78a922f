"""The bench: where engineers ask what figures of the rules do, try situations, and work simulated devices by hand."""
