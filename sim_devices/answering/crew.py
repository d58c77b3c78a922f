"""Who answers in the demo, by what they are."""

NURSE = "charge nurse"
TECH = "technician"

ENGINEER_ROLE = "engineer"
"""Id of the role in the demo's site file to which alerts about devices are handed over."""
