"""Waters computed with PHREEQC speciation and the ionic conductivities of McCleskey et al.

Compositions are illustrative, put together inside ordinary ranges. Each line: name, kind,
pH, EC25 in µS/cm, sum of cations in meq/L. None of them may ever be barred.
"""

from intake.rules.facts import WaterKind

K = WaterKind

WATERS: tuple[tuple[str, WaterKind, float, float, float], ...] = (
    ("continental rain", K.RAIN, 5.2, 9.1, 0.053),
    ("acid rain", K.RAIN, 4.1, 42.9, 0.144),
    ("coastal rain", K.RAIN, 5.5, 40.2, 0.309),
    ("snowmelt granite stream", K.STREAM, 6.5, 17.7, 0.161),
    ("soft upland stream", K.STREAM, 6.9, 63.5, 0.559),
    ("peat water", K.PEAT, 4.2, 59.6, 0.363),
    ("world mean river", K.RIVER, 7.6, 148, 1.42),
    ("lowland river", K.RIVER, 8.0, 687, 6.94),
    ("chalk groundwater", K.GROUNDWATER, 7.2, 602, 6.35),
    ("dolomite groundwater", K.GROUNDWATER, 7.4, 662, 7.50),
    ("gypsum groundwater", K.GROUNDWATER, 7.1, 2328, 32.8),
    ("sodium bicarbonate groundwater", K.GROUNDWATER, 8.4, 1044, 11.7),
    ("carbonated mineral water", K.GROUNDWATER, 6.2, 2327, 30.4),
    ("soda lake", K.UNKNOWN, 9.8, 10817, 152.6),
    ("geothermal sodium chloride", K.GROUNDWATER, 6.8, 6998, 64.4),
    ("geothermal acid sulfate", K.GROUNDWATER, 2.4, 2524, 12.9),
    ("recirculating aquaculture", K.AQUACULTURE, 7.1, 986, 8.86),
    ("shrimp pond", K.AQUACULTURE, 7.9, 16730, 174),
    ("estuary", K.BRACKISH, 7.8, 3956, 37.2),
    ("seawater", K.SEA, 8.1, 52855, 620),
    ("raw sewage", K.WASTE, 7.4, 1206, 12.0),
    ("treated effluent", K.WASTE, 7.2, 956, 9.18),
    ("landfill leachate", K.WASTE, 7.9, 14645, 160),
    ("irrigation drainage", K.FIELD_DRAINAGE, 7.8, 9943, 126),
    ("field drainage", K.FIELD_DRAINAGE, 7.3, 1022, 10.1),
    ("soil water extract", K.SOIL_EXTRACT, 6.4, 146, 1.15),
    ("soil extract, calcium chloride", K.SOIL_EXTRACT, 5.5, 2487, 21.4),
    ("soil extract, potassium chloride", K.SOIL_EXTRACT, 5.6, 111660, 1003),
    ("hydroponic solution", K.NUTRIENT_SOLUTION, 5.8, 2288, 20.9),
    ("mild mine drainage", K.MINE_DRAINAGE, 3.4, 1531, 19.0),
    ("strong mine drainage", K.MINE_DRAINAGE, 2.3, 6283, 99.9),
    ("reverse osmosis permeate", K.PURE, 5.9, 26.6, 0.211),
    ("soft drinking water", K.TAP, 7.8, 201, 1.91),
    ("concrete leachate", K.UNKNOWN, 12.0, 3142, 13.9),
)

#: Single acids and bases of the same computation: name, pH, EC25.
SOLUTIONS: tuple[tuple[str, float, float], ...] = (
    ("hydrochloric acid 1 mmol/L", 3.015, 422.1),
    ("sulfuric acid 5 mmol/L", 2.124, 3322.0),
    ("nitric acid 10 mmol/L", 2.039, 4094.8),
    ("fulvic acid 0.3 mmol/L", 3.583, 97.6),
    ("lime 5 mmol/L", 11.922, 2278.4),
)
