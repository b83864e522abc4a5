"""The best known values of the published routing problems kept in tests/data/routing.

Sources, all as kept in gleraromero/tdtsptw at 9c3856c (MIT):

- Ascheuer, N. (1995), stacker crane problems with time windows (`rbg...`): least travel and
  processing together.
- Gendreau, M., Hertz, A., Laporte, G. and Stan, M. (1998), travelling salesmen with wide time
  windows (`n20w...`), distances cut to whole numbers and made to keep the triangle inequality:
  least travel.
- Cordeau, J.-F., Ghiani, G. and Guerriero, E. (2014), speeds that change with the hour: least
  makespan when leaving at 0 (the `objective` kept with them is not the makespan).

The travel costs are stated there, and those of `rbg` to `rbg021.6`, `rbg027a`, `n20w120` and
`n20w140` were recomputed by an exact dynamic programme of ours; of the other `n20` only a tour of
that length was checked; RBG_FROM_MEMORY are from memory. The makespans are not stated there and are
those of our exact dynamic programme alone.
"""

RBG = {
    "rbg010a": 671,
    "rbg016a": 938,
    "rbg016b": 1304,
    "rbg017": 893,
    "rbg017.2": 852,
    "rbg017a": 4296,
    "rbg019a": 1262,
    "rbg019b": 1866,
    "rbg019c": 4536,
    "rbg019d": 1356,
    "rbg020a": 4689,
    "rbg021": 4536,
    "rbg021.2": 4528,
    "rbg021.3": 4528,
    "rbg021.4": 4525,
    "rbg021.5": 4515,
    "rbg021.6": 4480,
    "rbg027a": 5091,
}
RBG_FROM_MEMORY = {"rbg021.7": 4479, "rbg021.8": 4478, "rbg021.9": 4478}

N20 = {
    "n20w120.001": 267,
    "n20w120.002": 218,
    "n20w120.003": 303,
    "n20w120.004": 300,
    "n20w120.005": 240,
    "n20w140.001": 176,
    "n20w140.002": 272,
    "n20w140.003": 236,
    "n20w140.004": 255,
    "n20w140.005": 225,
    "n20w160.001": 241,
    "n20w160.002": 201,
    "n20w160.003": 201,
    "n20w160.004": 203,
    "n20w160.005": 245,
    "n20w180.001": 253,
    "n20w180.002": 265,
    "n20w180.003": 271,
    "n20w180.004": 201,
    "n20w180.005": 193,
    "n20w200.001": 233,
    "n20w200.002": 203,
    "n20w200.003": 249,
    "n20w200.004": 293,
    "n20w200.005": 227,
}

MAKESPANS = {
    "15_70_A_A1": 588.203067,
    "15_70_A_A2": 612.876529,
    "15_70_A_A3": 654.985487,
    "15_70_A_B1": 637.537734,
    "15_70_B_A1": 617.972585,
    "15_80_A_A1": 588.203067,
    "15_80_B_A1": 606.824513,
    "15_90_A_A1": 588.203067,
    "15_90_B_B1": 621.823918,
    "15_95_A_A1": 586.687727,
    "15_98_A_A1": 585.233613,
    "15_98_B_B1": 613.825764,
}
