"""What single varieties and species are said to need: chill to end their rest, heat to full bloom. A variety's own value
goes before its group's.

Pistachio has no group here; nectarine is of the group peach. Values from cut twigs in a fridge are hours, not portions.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from service.science.parameters import Mark, read_rows

_SOURCES = {
    "pope": "Pope, Fruit and Nut Crop Chill Portions Requirements, University of California Fruit and Nut Research and Information "
    "Center; it names Ramirez et al. 2010 (almond), Pope et al. 2014 (nuts), Erez 2000 (apple, cherry, peach, nectarine), Ruiz et "
    "al. 2007 and Campoy 2012 (apricot), Alburquerque et al. 2008 (cherry)",
    "twigs": "Aslamarz, Vahdati, Rahemi and Hassani 2009, HortScience 44(3):697-701 (authors from memory)",
    "zaragoza": "Fadon, Rodrigo and Luedeling 2022, Acta Hortic 1342 (12 cultivars, Zaragoza)",
    "alonso": "Alonso, Espiau, Anson and Socias i Company 2005, ITEA 101(4):282-302",
    "trade": "a table of the trade, hours below 7 °C",
    "germplasm": "Estimating Heat Requirement for Flowering in Peach Germplasm, Agronomy 2022, 12:1002",
    "latitudes": "Flowering and bud break of peach cv. Springcrest grown at three different latitudes, Acta Hortic 315, article 18",
    "bulgaria": "A study of heat requirements, Bulgaria 2002-2010 (abstract seen, journal not shown)",
}

# species | variety or range | least | most | unit | mark | source | note
_ROWS = """
almond | Desmayo Largueta | 28 | 28 | CP | published, secondary | pope |
almond | Ferragnes | 32 | 32 | CP | published, secondary | pope |
almond | Nonpareil | 22 | 23 | CP | published, secondary | pope |
apple | Golden Delicious | 50 | 50 | CP | published, secondary | pope |
apricot | Bergeron | 62 | 65 | CP | published, secondary | pope |
apricot | Bulida | 54 | 56 | CP | published, secondary | pope |
apricot | Canino | 30 | 45 | CP | published, secondary | pope |
apricot | Currot | 34 | 40 | CP | published, secondary | pope |
apricot | Dorada | 56 | 58 | CP | published, secondary | pope |
apricot | Goldrich | 62 | 62 | CP | published, secondary | pope |
apricot | Murciana | 56 | 56 | CP | published, secondary | pope |
apricot | Orange Red | 55 | 69 | CP | published, secondary | pope |
apricot | Palsteyn | 32 | 37 | CP | published, secondary | pope |
apricot | Rojo Pasion | 48 | 51 | CP | published, secondary | pope |
apricot | San Castrese | 55 | 55 | CP | published, secondary | pope |
apricot | Selene | 57 | 57 | CP | published, secondary | pope |
cherry_sweet | Brooks | 37 | 37 | CP | published, secondary | pope |
cherry_sweet | Burlat | 48 | 53 | CP | published, secondary | pope |
cherry_sweet | Cristobalina | 30 | 30 | CP | published, secondary | pope |
cherry_sweet | Lapins | 35 | 35 | CP | published, secondary | pope |
cherry_sweet | Marvin | 58 | 58 | CP | published, secondary | pope |
cherry_sweet | New Star | 54 | 54 | CP | published, secondary | pope |
cherry_sweet | Rainier | 45 | 45 | CP | published, secondary | pope |
cherry_sweet | Ruby | 48 | 48 | CP | published, secondary | pope |
cherry_sweet | Sam | 70 | 70 | CP | published, secondary | pope |
cherry_sweet | Somerset | 48 | 48 | CP | published, secondary | pope |
nectarine | Aprilglo | 12 | 12 | CP | published, secondary | pope |
nectarine | Fantasia | 42 | 42 | CP | published, secondary | pope |
nectarine | Flavortop | 41 | 41 | CP | published, secondary | pope |
nectarine | Mayglo | 18 | 18 | CP | published, secondary | pope |
nectarine | Sunlite | 33 | 33 | CP | published, secondary | pope |
peach | Andross | 63 | 63 | CP | published, secondary | pope |
peach | Big Top | 63 | 63 | CP | published, secondary | pope |
peach | Earligrande | 12 | 12 | CP | published, secondary | pope |
peach | Flordaprince | 8 | 8 | CP | published, secondary | pope |
peach | Maravilha | 12 | 12 | CP | published, secondary | pope |
peach | O'Henry | 63 | 63 | CP | published, secondary | pope |
peach | Redhaven | 75 | 75 | CP | published, secondary | pope |
pistachio | Kerman | 54 | 58 | CP | published, secondary | pope |
pistachio | Mateur | 36 | 36 | CP | published, secondary | pope |
pistachio | Peters | 58 | 65 | CP | published, secondary | pope |
pistachio | Sirora | 60 | 60 | CP | published, secondary | pope |
plum_european | Improved French | 55 | 60 | CP | published, secondary | pope |
walnut | Chandler | 45 | 50 | CP | published, secondary | pope | an older edition of the same table gives 68.2 (Payne) and 71.5 (Chandler)
walnut | Hartley | 54 | 54 | CP | published, secondary | pope |
walnut | Payne | 38 | 38 | CP | published, secondary | pope | an older edition of the same table gives 68.2 (Payne) and 71.5 (Chandler)
walnut | Serr | 650 | 650 | h at 4 °C | published | twigs | lateral buds of cut one-year twigs kept in plastic bags
walnut | Pedro | 750 | 750 | h at 4 °C | published | twigs | lateral buds of cut one-year twigs kept in plastic bags
walnut | Lara | 900 | 900 | h at 4 °C | published | twigs | lateral buds of cut one-year twigs kept in plastic bags
walnut | Hartley | 1000 | 1000 | h at 4 °C | published | twigs | lateral buds of cut one-year twigs kept in plastic bags
cherry_sweet | range of 12 cultivars | 567 | 893 | h | published | zaragoza | 567 ± 106 to 893 ± 99
cherry_sweet | range of 12 cultivars | 694 | 1229 | CU | published | zaragoza | 694 ± 100 to 1229 ± 126
almond | most of 47 cultivars | 400 | 600 | CU | published | alonso |
apple | species range | 300 | 1200 | h | common practice, no source | trade |
apricot | species range | 300 | 1000 | h | common practice, no source | trade |
chestnut | species range | 400 | 750 | h | common practice, no source | trade |
grape | species range | 100 | 500 | h | common practice, no source | trade |
fig | species range | 100 | 500 | h | common practice, no source | trade |
olive | species range | 400 | 700 | h | common practice, no source | trade |
kiwi | species range | 400 | 800 | h | common practice, no source | trade |
pear | species range | 150 | 1500 | h | common practice, no source | trade |
peach | species range | 150 | 1200 | h | common practice, no source | trade |
persimmon | species range | 100 | 700 | h | common practice, no source | trade |
pecan | species range | 150 | 1600 | h | common practice, no source | trade |
plum | species range | 275 | 1000 | h | common practice, no source | trade |
quince | species range | 100 | 500 | h | common practice, no source | trade |
walnut | species range | 400 | 1500 | h | common practice, no source | trade |
almond | species range | 400 | 700 | h | common practice, no source | trade |
citrus | species range | 0 | 0 | h | common practice, no source | trade |
avocado | species range | 0 | 0 | h | common practice, no source | trade |
almond | 47 cultivars | 5500 | 9300 | GDH to full bloom | published | alonso |
peach | 136 cultivars, eight-season values | 4808 | 7721 | GDH to full bloom | published | germplasm | single-season extremes 1362 and 10348
peach | Springcrest | 3670 | 3670 | GDH to full bloom | published | latitudes | with 940 CU
cherry_sweet | 12 cultivars, sums above 5 °C | 1908 | 3868 | GDH to full bloom | published, secondary | bulgaria |
"""


@dataclass(frozen=True)
class Requirement:
    """A need as told: from `least` to `most` in `unit`. `who` is a variety or names the range."""

    species: str
    who: str
    least: float
    most: float
    unit: str
    mark: Mark
    source: str
    note: str

    @property
    def middle(self) -> float:
        return (self.least + self.most) / 2


REQUIREMENTS = tuple(
    Requirement(species, who, float(least), float(most), unit, Mark(mark), _SOURCES[source], note)
    for species, who, least, most, unit, mark, source, note in read_rows(_ROWS, 8)
)
_SPECIES_OF_GROUP = {"peach": ("peach", "nectarine")}


@lru_cache(maxsize=4_096)
def own_need(group: str, variety: str) -> Requirement | None:
    """The chill portions a variety itself is said to need, by its name in its group; None where none is told."""
    name = variety.casefold()
    among = _SPECIES_OF_GROUP.get(group, (group,))
    return next(
        (
            each
            for each in REQUIREMENTS
            if each.species in among and each.unit == "CP" and each.who.casefold() == name
        ),
        None,
    )


@lru_cache(maxsize=256)
def needs_of_group(group: str) -> tuple[Requirement, ...]:
    """All chill portions told of varieties of a group."""
    among = _SPECIES_OF_GROUP.get(group, (group,))
    return tuple(each for each in REQUIREMENTS if each.species in among and each.unit == "CP")
