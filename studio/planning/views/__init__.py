"""Which pages does the plan have?"""
