"""An invented shop: people, vehicles, heaters, three seasons of visits. Pure and seeded; nothing in it is real."""
