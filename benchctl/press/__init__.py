"""The cold press: the lap rests on the glass under load, while nothing turns."""
