"""What an inspection station asks of a readout, and what its rule answers. Pure."""
