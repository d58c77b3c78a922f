"""What really went wrong in a ward, whether or not a sensor saw it: the truth that alerts are held against."""
