"""How well repairs hold: measures of what came of them."""
