"""The way home: who has the vehicle, the gear and the people, when each is home and ready again."""
