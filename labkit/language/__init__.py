"""What formulas and prose are written in: expressions, quantities, chance, places of mistakes."""
