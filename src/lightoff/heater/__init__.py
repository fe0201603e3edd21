"""The heater's own physics, part by part: air, fuel, spray, igniter, flame, jacket, sequence, supply."""
