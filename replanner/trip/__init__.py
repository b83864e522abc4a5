"""What is ridden: places, legs, days and riders, and what can be said of them without weather."""
