"""The invented exercise SABLE TIDE, in the formats of real feeds, and the script that wrote it."""
