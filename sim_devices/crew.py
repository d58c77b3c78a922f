"""The people of the demo, by what they are."""

NURSE = "demo charge nurse"
PHYSICIAN = "demo physician"
TECH = "demo technician"
ENGINEER = "demo engineer"
