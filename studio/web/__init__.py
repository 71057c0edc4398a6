"""What every page shares: requests, idempotency, sign-in, change records, the studio's name."""
