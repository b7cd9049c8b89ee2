"""While the journal is away: who asks for it, what pages stand on, what waits to be sent."""
