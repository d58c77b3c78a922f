"""The people of the demo, by what they are."""

NURSE = "demo charge nurse"
PHYSICIAN = "demo physician"
TECH = "demo technician"
ENGINEER = "demo engineer"

ENGINEER_ROLE = "engineer"
"""Id of the role in the demo's site file to which alerts about devices are handed over."""
