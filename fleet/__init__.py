"""Plans the cooling and the upkeep of many aquarium tanks."""
