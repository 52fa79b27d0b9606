"""The drivers that come with the program, by the same door as anyone's: one wire format a file, no I/O."""
