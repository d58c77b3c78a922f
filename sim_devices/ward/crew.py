"""Who enters what is done in a simulated ward, by what they are."""

EXAMINER = "examiner"
TECHNICIAN = "technician"
ENGINEER = "engineer"
