"""The models, their numbers and their sources, as text. What is read here is what is computed with.

A model: key | title | equation | part of the page | the one function that computes it | whether anything told rests on it | mark | source.
A number: model | name | value | unit | mark | source | note.
"""

from __future__ import annotations

_AS_CODED = "as coded and documented in the R package chillR 0.77 (Luedeling et al. 2025); the originals were not read in full"
_OF_WOOD = "Judgement, tuned on keeping times; a starting point that the club's own takes correct"

SOURCES: dict[str, str] = {
    "none": "",
    "weinberger": f"Weinberger 1950, Proc Am Soc Hortic Sci 56:122-128; Bennett 1949, Calif Agric 3(11):9,12; {_AS_CODED}",
    "utah": f"Richardson, Seeley and Walker 1974, HortScience 9(4):331-332; interval ends {_AS_CODED}",
    "positive": "Linsley-Noakes and Allan 1994, Sci Hortic 59(2):107-113; as coded in the R package dormancyR",
    "dynamic": "Fishman, Erez and Couvillon 1987, J Theor Biol 124:473-483 and 126:309-321; Erez, Fishman, Linsley-Noakes "
    f"and Allan 1990, Acta Hortic 276:165-174; {_AS_CODED}",
    "asymcur": f"Anderson, Richardson and Kesner 1986, Acta Hortic 184:71-78; {_AS_CODED}",
    "linear": "Richardson, Seeley, Walker, Anderson and Ashcroft 1975, HortScience 10:236-237; as documented in the R package "
    "ChillModels, which counts hours above 25 °C as nothing instead",
    "spencer": f"Spencer 1971 for the declination; Almorox, Hontoria and Benito 2005; {_AS_CODED}",
    "linvill": f"Linvill 1990, HortScience 25(1):14-16; {_AS_CODED}",
    "fao": "Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, equations 11, 24, 25 and 34",
    "tetens": "Tetens 1930, as in Allen et al. 1998, FAO Irrigation and Drainage Paper 56, equation 11",
    "usp": "USP 29, chapter 1160; the idea: Haynes 1971, J Pharm Sci (seen in a compilation)",
    "kramer": "The curve: Kramer 1994, as cited in the R package phenor; its numbers: Sarvas 1974, Hänninen 1990, from memory",
    "lang": "Lang, Early, Martin and Darnell 1987, HortScience 22(3):371: para-, endo- and ecodormancy",
    "bark": "Bark of pine branches, Front Plant Sci 2021, 790684, at an assumed 2.5 kPa and a stick of 6 mm of 1,000 kg/m3",
    "respiration": "Between Q10 1.3 and 2.8 of resting wood: Ceschia et al. 2002 (beech), Ryan et al. 1995 (conifers), Gardea et al. "
    "(grape buds)",
    "botrytis": "Petäistö 2006, Baltic Forestry 12(1):24-33: all spores germinate in 52 h at 0 °C and in 15 h at 6 °C",
    "botrytis_cold": "It still grows at -4 °C: Tian 2001, Acta Phytopathol Sin 31(1)",
    "ethylene": "Fitted between apple scions ruined in 7-14 days beside ripe apples in a bag, and Fraser fir, 17.5 ppm for 56 days "
    "at 3.3 °C, with 22 % less growth",
    "freezing": "Two published temperatures per group, of buds at the first swelling; the curve between them is a choice",
    "wood": _OF_WOOD,
    "own": "Judgement",
    "pope": "Pope, Fruit and Nut Crop Chill Portions Requirements, University of California Fruit and Nut Research and Information "
    "Center",
    "beta": "Bayes' rule on a grid; binomial takes",
    "waxing": "Direction published for roses (0 °C, 95 %: 100 % of waxed, 58.9 % of unwaxed plants grew on); the size is judgement",
}

MODEL_ROWS = """
chilling_hours | Chilling hours | 1 if 0 <= T <= 7.2 °C, else 0 | chill | chill.chilling_hours | not used yet | published | weinberger
chilling_hours_no_floor | Chilling hours without a floor | 1 if T <= 7.2 °C, else 0 | chill | chill.chilling_hours | not used yet | common practice, no source | none
utah | Utah chill units | a weight between -1 and 1 by temperature, per hour | chill | chill.utah_units | not used yet | published | utah
positive | Positive chill units | Utah weights, the negative ones as 0 | chill | chill.positive_units | not used yet | published | positive
dynamic_model | Dynamic Model, chill portions | xs = A0/A1 exp((E1-E0)/TK); x = xs - (xs-x) exp(-A1 exp(-E1/TK)); if x >= 1: portions += xi x, x -= xi x, xi = 1/(1+exp(-slope Tf (TK-Tf)/TK)) | chill | chill.chill_portions | used | published | dynamic
gdh_asymcur | Growing degree hours, curved | cosine from Tb to Tu, a steeper one down to Tc | heat | heat.curved_degree_hours | not used yet | published | asymcur
gdh_linear | Growing degree hours, straight | T - 4.5 from 4.5 to 25 °C, 20.5 above | heat | heat.linear_degree_hours | not used yet | published | linear
forcing | Forcing, days at 20 °C | f = s(T)/s(20), s = 1/(1+exp(-0.185 (T-18.4))), 0 below -1 °C | heat | heat.forcing_per_hour | used | from memory, unverified | kramer
phases | Para-, endo-, ecodormant, moving | portions against the need, then forcing against days to budbreak | dormancy | dormancy.phase_of | used | judgement | lang
day_length | Day length | declination 0.409 sin(2 pi J/365 - 1.39); N = 24/pi acos(-tan(lat) tan(declination)) | daylight | daylight.day_length | not used yet | published | fao
sun_times | Sunrise and sunset | Fourier series of the declination; sun's rim at -0.8333 degrees | daylight | daylight.sun_times | used | published | spencer
hourly | Hours from daily lowest and highest | sine by day, logarithm by night | daylight | daylight.hourly_temperatures | used | published | linvill
vapour_pressure | Saturation vapour pressure, deficit | es = 0.6108 exp(17.27 T/(T+237.3)); VPD = es (1 - RH/100) | moisture | moisture.vapour_deficit | used | published | tetens
mean_kinetic | Mean kinetic temperature | T = (dH/R)/(-ln(mean of exp(-dH/(R T)))) | kinetics | kinetics.mean_kinetic_temperature | not used yet | published | usp
reserve | Reserves used up by breathing | D += Q10^(T/10) dt/(7 weeks) | hazards | hazards.dose_trace | used | judgement | respiration
drying | Drying | W += 2 (6/d) f VPD dt; D = W/W50 | hazards | hazards.dose_trace | used | judgement | bark
mould | Mould | D += m w r(T) dt/280 | hazards | hazards.dose_trace | used | judgement | botrytis
budbreak | Premature budbreak | D += gate f(T) dt/F; gate = min(1, 2/(1+exp(-(P-CR)/(0.08 CR)))) | hazards | hazards.dose_trace | used | judgement | kramer
ethylene | Ethylene of ripe fruit | D += e f 4^((T-20)/10) dt/10 | hazards | hazards.dose_trace | used | judgement | ethylene
freezing | Freezing, by the coldest hour | H = -ln(1 - 1/(1+exp(k (Tmin-T50)))), k = 2 ln 9/(T10-T90) | hazards | viability.hazard_terms | used | judgement | freezing
gaps | Gaps of a record | up to 3 h the last reading, up to 48 h the mean of the day before and the day after, longer the named temperature | hours | hours.fill_gaps | used | judgement | own
viability | Viable share | V = V0 exp(-ln2 sum((th D)^n) - H) | viability | viability.viable_share | used | judgement | wood
days_left | Days left, and what a spell cost | the mean hour of the last 168 repeats until V/V0 < 0.75; less with the spell than without | keeping_time | service.storage.rules.keeping.hours_left | used | judgement | wood
looks | What a look says of doses | a bad sign sets a floor, a clean one a ceiling, a weighed loss takes the place of the reckoned one | looks | looks.after_look | used | judgement | own
learning | Learning from takes | takes ~ Binomial(n, p0 V); ln th ~ Normal, p0 ~ Beta, on a grid | learning | learning.learn | used | judgement | beta
verdict | Dormancy verdict | a table of phase, look and what is known | dormancy | dormancy.judge_dormancy | used | judgement | lang
"""  # noqa: E501 - a row is a line

PARAMETER_ROWS = """
chilling_hours | lower | 0 | °C | published | weinberger | inclusive
chilling_hours | upper | 7.2 | °C | published | weinberger | inclusive
chilling_hours_no_floor | upper | 7.2 | °C | common practice, no source | none | inclusive
# Weights count above the limit before and up to and with their own; the Fahrenheit table in use elsewhere differs a little.
utah | up_to_1.4 | 0 | CU/h | published | utah | T <= 1.4 °C
utah | up_to_2.4 | 0.5 | CU/h | published | utah | 1.4 < T <= 2.4 °C
utah | up_to_9.1 | 1 | CU/h | published | utah | 2.4 < T <= 9.1 °C
utah | up_to_12.4 | 0.5 | CU/h | published | utah | 9.1 < T <= 12.4 °C
utah | up_to_15.9 | 0 | CU/h | published | utah | 12.4 < T <= 15.9 °C
utah | up_to_18 | -0.5 | CU/h | published | utah | 15.9 < T <= 18 °C
utah | above | -1 | CU/h | published | utah | T > 18 °C
positive | least | 0 | CU/h | published | positive | weights below it count as it
dynamic_model | E0 | 4153.5 | K | published | dynamic |
dynamic_model | E1 | 12888.8 | K | published | dynamic |
dynamic_model | A0 | 139500 | 1/h | published | dynamic |
dynamic_model | A1 | 2.567e18 | 1/h | published | dynamic |
dynamic_model | slope | 1.6 | - | published | dynamic |
dynamic_model | Tf | 277 | K | published | dynamic |
dynamic_model | kelvin | 273 | K | published | dynamic | 273, not 273.15
gdh_asymcur | Tb | 4 | °C | published | asymcur |
gdh_asymcur | Tu | 25 | °C | published | asymcur |
gdh_asymcur | Tc | 36 | °C | published | asymcur |
gdh_asymcur | stress | 1 | - | published | asymcur | 1: no stress
gdh_linear | base | 4.5 | °C | published | linear |
gdh_linear | cap | 25 | °C | from memory, unverified | linear | above it an hour counts as at it
forcing | steepness | 0.185 | 1/°C | from memory, unverified | kramer |
forcing | middle | 18.4 | °C | from memory, unverified | kramer |
forcing | reference | 20 | °C | judgement | kramer | where a day counts as one
forcing | least | -1 | °C | judgement | own | nothing below
phases | para_share | 0.25 | of the need | judgement | own | with fewer portions and no look at the leaves: paradormant
phases | budbreak_share | 0.6 | - | judgement | wood | half a bundle is lost at this share of the days to budbreak
phases | need_spread_walnut | 0.4 | of the need | derived | pope | an older edition of the same table gives 53.8-71.5 CP
phases | need_spread | 0.2 | of the need | judgement | own | how far a variety may be from its group, either way
verdict | tropic | 23.5 | degrees | derived | spencer | greatest declination, rounded up; nearer the equator no winter by the sun
verdict | quickest_portion | 28 | h | derived | dynamic | about, at 6 °C: what an hour that nobody measured may at most have added
verdict | warm_as_last | 168 | h | judgement | own | known hours whose mean warmth those may have had that nobody measured
verdict | midwinter | 60 | days | common practice, no source | none | from the shortest day: leaves nobody saw count as fallen
verdict | counts_from | 122 | days | judgement | own | before the shortest day: late summer, from when chill is counted
verdict | least_measured | 0.5 | of the days | judgement | own | since late summer; with fewer measured, chill counts as not known
verdict | unmet | 120 | days | judgement | own | after the shortest day: with the need not met by then, the air says nothing
verdict | near_budbreak | 0.6 | of the warmth | judgement | own | that moves buds; from then on wood that nobody looked at is not known
verdict | stale | 7 | days | judgement | own | a record that ended longer before the day asked says nothing of it
verdict | whole_winter | 0.9 | of the days | judgement | own | an earlier winter with fewer measured tells no dates
verdict | least_winters | 2 | winters | judgement | own | with fewer earlier ones no range of dates is told
day_length | amplitude | 0.409 | rad | published | fao |
day_length | shift | 1.39 | rad | published | fao |
sun_times | constant | 0.006918 | rad | published | spencer | of the declination, as are the six that follow
sun_times | cos_1 | -0.399912 | rad | published | spencer |
sun_times | sin_1 | 0.070257 | rad | published | spencer |
sun_times | cos_2 | -0.006758 | rad | published | spencer |
sun_times | sin_2 | 0.000907 | rad | published | spencer |
sun_times | cos_3 | -0.002697 | rad | published | spencer |
sun_times | sin_3 | 0.00148 | rad | published | spencer |
sun_times | rim | -0.8333 | degrees | published | spencer |
sun_times | hour_angle | 15 | degrees/h | published | spencer |
hourly | after_sunset | 4 | h | published | linvill | the sine of the day runs so long past the day length
hourly | short_night | 4 | h | judgement | own | shorter ones end at the day's lowest
vapour_pressure | at_zero | 0.6108 | kPa | published | tetens |
vapour_pressure | factor | 17.27 | - | published | tetens |
vapour_pressure | offset | 237.3 | °C | published | tetens |
mean_kinetic | activation | 83.144 | kJ/mol | published | usp | made for medicines; equals Q10 3.64 from 0 to 10 °C
mean_kinetic | gas_constant | 8.3144e-3 | kJ/(mol K) | published | usp |
mean_kinetic | kelvin | 273.15 | K | published | usp |
reserve | q10 | 2 | - | judgement | respiration | published from 1.3 to 2.8
drying | loss | 2 | % of fresh mass per kPa and day | derived | bark | of a bare stick of 6 mm
drying | diameter | 6 | mm | derived | bark |
drying | coldest | -5 | °C | judgement | wood | colder counts as this
drying | humidity | 80 | % | judgement | own | of a store where nobody measured it
drying | waxed | 0.6 | - | judgement | waxing | times the packing factor
mould | time | 280 | days | judgement | wood | wet wood at 0 °C, to half
mould | factor | 8 | per 10 °C | derived | botrytis | up to the bend
mould | bend | 6 | °C | published | botrytis |
mould | factor_above | 5 | per 10 °C | judgement | wood | above the bend
mould | least | -4 | °C | published | botrytis_cold | nothing below
mould | disinfected | 0.5 | - | judgement | wood | times the wetness
budbreak | gate_width | 0.08 | of the need | judgement | wood |
ethylene | reference | 20 | °C | judgement | ethylene |
ethylene | factor | 4 | per 10 °C | judgement | ethylene |
ethylene | time | 10 | days | judgement | ethylene | beside ripe fruit in a closed bag at 20 °C, to half
ethylene | some_fruit | 0.3 | - | judgement | ethylene | some fruit in a ventilated store
ethylene | ripe_fruit | 1 | - | judgement | ethylene | ripe fruit in the same closed fridge
ethylene | ppm | 17.5 | ppm | judgement | ethylene | a sensor's reading that counts as ripe fruit
ethylene | most | 1.5 | - | judgement | ethylene |
viability | fresh | 0.97 | - | judgement | wood | viable share of sound fresh dormant wood
viability | exponent_reserve | 3 | - | judgement | wood |
viability | exponent_drying | 3 | - | judgement | wood |
viability | exponent_mould | 2 | - | judgement | wood |
viability | exponent_budbreak | 6 | - | judgement | wood |
viability | exponent_ethylene | 3 | - | judgement | wood |
viability | sigma_logger | 0.30 | ln | judgement | wood |
viability | sigma_in_pack | 0.25 | ln | judgement | wood | humidity measured inside the pack as well
viability | sigma_nominal | 0.40 | ln | judgement | wood | a named temperature only, or a gap longer than two days
viability | band | 1.2816 | sigma | derived | beta | to either side: four in five
days_left | threshold | 0.75 | of the start | judgement | wood |
days_left | repeated | 168 | h | judgement | wood |
days_left | most | 730 | days | judgement | wood | beyond it is said: over two years
learning | sigma | 0.30 | ln | judgement | wood | of ln th before any take
viability | assumed_fridge | 5 | °C | judgement | own | a fridge in which nothing was measured
viability | assumed_cold_room | 3 | °C | judgement | own | a cold room in which nothing was measured
viability | assumed_cellar | 8 | °C | judgement | own | a cellar in which nothing was measured
viability | nominal_fridge | 2 | °C | judgement | wood | either way, a household fridge or a cellar
viability | nominal_cold_room | 1 | °C | judgement | wood | either way, a watched cold room
gaps | held_hours | 3 | h | judgement | wood | a gap as long as this keeps the last reading
gaps | neighbour_hours | 48 | h | judgement | wood | a gap as long as this takes the day before and the day after
viability | outdoors | 10 | °C | judgement | wood | time outside a store, not measured
viability | indoors | 20 | °C | judgement | wood | time outside a store, not measured
looks | swelling | 0.8 | dose | judgement | own | budbreak, at least: when it was cut or came, and in store
looks | green | 1 | dose | judgement | own | budbreak, at least: when it was cut or came, and in store
looks | wrinkled | 8 | % | judgement | own | lost, at least; not wrinkled: at most
looks | shrivelled | 18 | % | judgement | own | lost, at least
looks | tight | 0.6 | dose | judgement | own | budbreak, at most: buds that do not yet swell
looks | mould | 0.6 | dose | judgement | own | at least
looks | no_mould | 0.3 | dose | judgement | own | at most: mould that nobody sees yet
looks | green_scratch | 1 | dose | judgement | own | reserves, drying and ethylene, at most: half the bundle lives
looks | brown_scratch | 1 | dose | judgement | own | reserves, at least: half the bundle is lost
packing_damp_paper | factor | 0.02 | - | judgement | wood | sealed plastic with barely damp paper
packing_damp_paper | wetness | 0.35 | - | judgement | wood |
packing_damp_paper | ethylene | 0.3 | - | judgement | wood |
packing_sealed | factor | 0.04 | - | judgement | wood | sealed plastic, no paper
packing_sealed | wetness | 0.15 | - | judgement | wood |
packing_sealed | ethylene | 0.3 | - | judgement | wood |
packing_wet | factor | 0.02 | - | judgement | wood | sealed plastic with free water on the wood
packing_wet | wetness | 1 | - | judgement | wood |
packing_wet | ethylene | 0.3 | - | judgement | wood |
packing_sand | factor | 0.05 | - | judgement | wood | damp sand, sawdust or moss
packing_sand | wetness | 0.4 | - | judgement | wood |
packing_sand | ethylene | 0.8 | - | judgement | wood |
packing_loose | factor | 0.15 | - | judgement | wood | loose or in an open bag
packing_loose | wetness | 0.2 | - | judgement | wood |
packing_loose | ethylene | 0.7 | - | judgement | wood |
packing_bare | factor | 1 | - | judgement | wood | bare
packing_bare | wetness | 0.02 | - | judgement | wood |
packing_bare | ethylene | 1 | - | judgement | wood |
learning | base_taken | 8 | takes | judgement | beta | what is assumed of a method before any take: 8 of 10
learning | base_failed | 2 | takes | judgement | beta |
learning | least_sigma | 0.08 | ln | judgement | beta |
learning | pool_groups | 3 | groups | judgement | beta | from so many on, of wood fresh and aged, a new group starts from their mean
learning | pool_grafts | 20 | grafts | judgement | beta | each of them with so many
learning | trusted | 20 | grafts | judgement | own | below it, or of fresh or aged wood alone, usual time and last look stand first
learning | told_at | 4 | °C | judgement | own | at which what was learned is told as days of keeping
learning | forecast_step | 0.05 | of the bundle | judgement | own | where its share changes by such a step, a forecast is kept
learning | fresh | 0.9 | of the start | judgement | beta | ageing and base take are told apart by wood on both sides of it
"""
