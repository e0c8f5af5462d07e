"""The commands of the program; the only part of the product that prints."""
