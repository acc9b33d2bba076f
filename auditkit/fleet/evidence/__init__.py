"""How strong, how timely and how plausible the evidence of a collection is."""
