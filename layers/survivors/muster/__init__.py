"""Who is where: the ledger of persons, those adrift, hospitals, escape against waiting."""
