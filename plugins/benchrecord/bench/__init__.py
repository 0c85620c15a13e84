"""The sums: numbers in, frozen results out. Every formula with its unit and source; no files, no clock, no pictures."""
