"""The catalogue as data and one small function per measure; severity; what came first."""
