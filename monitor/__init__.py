"""bightwatch: watches the moorings of a ship in port. It advises; it never certifies."""
