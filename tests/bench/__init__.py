"""Benchmarks: each prints its floor, its figure and their ratio from one run, and ends by itself."""
