"""Pure functions over float64 arrays, in SI: what physics says of one leg, one tank, one entry."""
