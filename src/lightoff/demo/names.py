"""Invented people, places and vehicles. Any likeness to real ones is chance."""

from __future__ import annotations

from lightoff.terms.people import VehicleKind

SHOP = ("Tern Lane Heat", "4 Tern Lane, Ferry Basin", "555 0142", "desk@ternlane.invalid", "J. Aalto")
FIRST = (
    "Mira", "Osei", "Tamsin", "Ilya", "Renske", "Dario", "Aroha", "Bram", "Noor", "Petra", "Silas",
        "Yuki",
    "Anselm", "Corin", "Freya", "Hakon", "Ines", "Jonas", "Kaia", "Lorcan", "Maren", "Nils", "Oda",
        "Pilar",
)  # fmt: skip
LAST = (
    "Oduya", "Venter", "Halloran", "Sorvari", "Brandt", "Quist", "Marchetti", "Tuhoe", "Okonjo",
        "Lindqvist",
    "Abara", "Fenwick", "Rask", "Delorme", "Ishida", "Kovar", "Munro", "Petrov", "Sandoval", "Thorne",
    "Ueda", "Varga", "Wexler", "Ylitalo",
)  # fmt: skip
VEHICLES: dict[VehicleKind, tuple[str, ...]] = {
    VehicleKind.BOAT: (
        "Saltgrass", "Dunlin", "Heron's Wake", "Low Water", "Quiet Tide", "Sedge", "Marram", "Eelgrass",
        "Kittiwake", "Slack Line", "Mudlark", "Wrack", "Sandpiper", "Oystercatcher",
    ),
    VehicleKind.COACH: (
        "Long Way Home", "Grey Mare", "Switchback", "Second Wind", "Blue Ridge Bess", "Wanderfowl",
        "Mile Ninety",
        "Slow Thunder", "Pinto", "North Fork", "Old Ledger", "Sagebrush", "Half Moon", "Tumbleweed",
        "Big Sky",
        "Harvest", "Juniper", "Cattle Guard",
    ),
    VehicleKind.CABIN: (
        "Alder Cabin", "Spruce Hut", "The Lookout", "Snowline", "Moraine", "Birch End", "Cold Spring",
        "Ptarmigan",
        "High Meadow", "Ridge House", "Larch", "Tarn Side",
    ),
    VehicleKind.WORKSHOP: (
        "Line Truck 3", "Weld Rig", "Survey Van", "Drill Crew", "Night Shift", "Tool Bus", "Tarmac One",
        "Bridge Gang",
        "Depot Trailer", "Field Lab",
    ),
}  # fmt: skip
# Where vehicles stand: name, metres above the sea.
PLACES = (
    ("Ferry Basin", 5.0), ("Mill Quay", 12.0), ("Sandhythe", 40.0), ("Coldharbour Yard", 180.0),
    ("Upper Fallow", 420.0), ("Larkrise", 760.0), ("Pass Junction", 1350.0), ("Stonecroft", 1900.0),
)  # fmt: skip
