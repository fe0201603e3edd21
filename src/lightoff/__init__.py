"""lightoff: judges how a small diesel-fired hydronic heater burns, and proves it with numbers."""
