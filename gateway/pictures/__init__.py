"""Pictures of the bench as files: PNG, SVG, and the numbers in them as CSV. Loads matplotlib, which takes its time."""
