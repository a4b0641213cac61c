"""Records and arithmetic of a spore bank: no window, no database, no files, no clock."""
