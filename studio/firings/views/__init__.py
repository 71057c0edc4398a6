"""Which pages do kilns, firings and schedules have?"""
