"""Which pages do supporters and their parcels have?"""
