"""The commands of the contract; the only place that prints."""
