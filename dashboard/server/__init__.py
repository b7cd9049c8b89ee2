"""The web server, the processes beside it, and the file of its secrets."""
