"""Sticks pass from hand to hand: split off, handed over in three forms, returned."""
