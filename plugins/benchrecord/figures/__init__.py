"""How pictures look: charts, board maps, photographs. Bytes and a text alternative, no disk."""
