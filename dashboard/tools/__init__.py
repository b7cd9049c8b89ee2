"""Forms over functions of layers/earth."""
