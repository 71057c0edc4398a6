"""The Today page, the records, the demo and the serve command."""
