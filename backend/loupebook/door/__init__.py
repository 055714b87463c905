"""The door: people, PINs, sessions, tickets, stations, one-time codes, and who may take which route."""
