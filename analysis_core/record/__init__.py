"""The record of dancers: takes over terms, consent, progress, and deletion that leaves nothing."""
