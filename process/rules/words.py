"""The words of process records: kinds, choices, and how each kind is numbered."""

LAYUP, MIX, CURE, BOND = "layup", "mix", "cure", "bond"
FASTENERS, TORQUE, WEIGHING = "fasteners", "torque", "weighing"
COUPON, HARDNESS, TAP_MAP, FUNCTION = "coupon", "hardness", "tapmap", "function"

# The letters before the number under which a record is cited.
LETTERS = {
    LAYUP: "L",
    MIX: "M",
    CURE: "C",
    BOND: "B",
    FASTENERS: "F",
    TORQUE: "TQ",
    WEIGHING: "W",
    COUPON: "CP",
    HARDNESS: "HD",
    TAP_MAP: "TM",
    FUNCTION: "FN",
}

TOOL_KINDS = {
    "torque": "Torque wrench",
    "scale": "Scale",
    "temperature": "Thermometer or logger",
    "vacuum": "Vacuum gauge",
    "hardness": "Hardness tester",
    "length": "Caliper or gauge",
    "tap": "Tap hammer or coin",
    "heat": "Oven, blanket or lamp",
    "other": "Other tool",
}
GOOD, DROPPED, REPAIRED, BAD, CALIBRATED = "good", "dropped", "repaired", "bad", "calibrated"
TOOL_EVENTS = {
    CALIBRATED: "Calibrated",
    GOOD: "Checked and found good",
    DROPPED: "Dropped or struck",
    REPAIRED: "Repaired",
    BAD: "Found bad",
}
# What came of looking again at a record that was made with a tool found bad.
STILL_GOOD, REDONE, ACCEPTED = "good", "redone", "accepted"
RECHECKED = {STILL_GOOD: "Still good", REDONE: "Done again", ACCEPTED: "Accepted as it is"}

MOMENTS = {
    "before": "Before",
    "mixing": "Mixing",
    "wet": "Wet",
    "bag": "Bag",
    "cure": "Cure",
    "demold": "Demold",
}
BY_WEIGHT, BY_VOLUME = "weight", "volume"
RATIO_BY = {BY_WEIGHT: "By weight", BY_VOLUME: "By volume"}
HEAT = {"oven": "Oven", "blanket": "Blanket", "lamp": "Lamp", "ambient": "Room"}
UNBROKEN, ADDED_UP = "unbroken", "cumulative"
SOAK_RULES = {UNBROKEN: "Unbroken", ADDED_UP: "Added up"}
BOND_KINDS = {"secondary": "Secondary bond", "cobond": "Co-bond", "tape": "Fillet and tape"}
YES_NO = {"yes": "Yes", "no": "No"}
VERDICTS = {"good": "Good", "bad": "Bad", "open": "Open"}
FATE = {"keep": "Keep", "rework": "Rework", "scrap": "Scrap"}
NUT_TYPES = {"tension": "Tension nut", "shear": "Shear nut"}
SOUNDS = {"dull": "Dull", "doubtful": "Doubtful", "good": "Good"}

# How the pages of checks call each kind, and what the button for a new one says.
CHECK_PLURALS = {
    TORQUE: "Torques",
    FASTENERS: "Fastener rows",
    WEIGHING: "Weighings",
    TAP_MAP: "Tap maps",
    HARDNESS: "Hardness",
    COUPON: "Coupons",
    FUNCTION: "Function tests",
}
CHECK_BEGIN = {
    TORQUE: "Tighten a fastener",
    FASTENERS: "Record a row",
    WEIGHING: "Weigh something",
    TAP_MAP: "Tap an area",
    HARDNESS: "Take readings",
    COUPON: "Keep a coupon",
    FUNCTION: "Record a test",
}
