"""The coolant circuit, lumped: flow, heat to the rooms, hot water, warm-up."""
