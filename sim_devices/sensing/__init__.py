"""What devices make of a ward: sensors after their data sheets, their clocks, batteries and radios."""
