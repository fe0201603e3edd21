"""One heater with its circuit: from sheet, conditions and faults to readings and a start's course."""
