"""A plant model of a vehicle's cooling loop, to try the judgement on; it imports nothing from the judgement."""
