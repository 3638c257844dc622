"""What the bench is made of and what is to be done on it: strict, frozen records, SI inside."""
