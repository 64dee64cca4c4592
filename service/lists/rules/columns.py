"""What the columns of an old list can mean, and the headings by which each is guessed.

Headings are the common words of clubs' own lists (common practice, no source), English and a few of German and French.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from service.lists.rules.words import ListSort, NoSuchColumn
from service.members.rules import fold_person


@dataclass(frozen=True)
class ListField:
    """One thing a column can tell."""

    name: str
    words: str
    kind: str = "text"  # text, note, count, year, day, flag
    needed: bool = False
    headings: tuple[str, ...] = ()
    hint: str = ""
    samples: tuple[str, ...] = ()  # as a sample file shows it, row by row


def _field(
    name: str,
    words: str,
    headings: str,
    kind: str = "text",
    *,
    samples: str = "",
    needed: bool = False,
    hint: str = "",
) -> ListField:
    told = tuple(
        dict.fromkeys(fold_heading(one) for one in (words, name.replace("_", " "), *headings.split(",")))
    )
    shown = tuple(samples.split("|")) if samples else ()
    return ListField(name, words, kind, needed, tuple(one for one in told if one), hint, shown)


@lru_cache(maxsize=4096)
def fold_heading(heading: str) -> str:
    """A heading as it is compared: lower case, no accents, signs as blanks."""
    plain = "".join(sign if sign.isalnum() else " " for sign in fold_person(heading))
    return " ".join(plain.split())


_VARIETY = "cultivar,sort,apple,name of variety,sorte,variete,cultivar name,variety name,fruit variety"
_KIND = "species,fruit,fruit type,type of fruit,type,obstart,espece,taxon,botanical name,genus"
_OWNER = "looked after by,whose,gardener,member,tree owner,owner name,besitzer,proprietaire,contact person"

_AREA = "area,zone,health area,plant health area"
_NOTE = "notes,remark,remarks,comment,comments,bemerkung,remarques"

FIELDS: Mapping[ListSort, tuple[ListField, ...]] = {
    ListSort.TREES: (
        _field("variety", "Variety", _VARIETY, samples="Bramley|Victoria"),
        _field("name_as_told", "Name as told, beside the variety", "told as,also called,local name,called"),
        _field("kind", "Kind", _KIND, samples="Apple|Plum"),
        _field("site", "Site", "orchard,garden,location,place,plot,standort,verger,where it stands,orchard name",
               samples="Withy Bank|Withy Bank"),
        _field("where_on_site", "Where on the site", "row,position,row and tree,spot,platz,place on site,row tree",
               samples="Row 1, third tree|By the gate"),
        _field("owner", "Who looks after it", _OWNER, samples="Tilde Ashgrove|Bo Fenwick"),
        _field("may_cut", "May be cut", "cutting allowed,may we cut,scions allowed,permission,scionwood allowed",
               samples="yes|ask", hint="yes, ask or no"),
        _field("most_sticks", "Sticks at most", "max sticks,most sticks a year,limit,sticks per season", "count"),
        _field("planted_year", "Planted in", "year,planted,year planted,planting year,pflanzjahr,annee,date planted", "year",
               samples="1998|2004"),
        _field("rootstock", "Rootstock", "stock,on,unterlage,porte greffe,grafted on", samples="M.9|St. Julien A"),
        _field("interstem", "Interstem", "interstock,zwischenstamm,intermediate stem"),
        _field("stands_on", "Stands on, in words", "stock in words"),
        _field("identity", "How sure the name is", "identity,verified,name checked"),
        _field("area", "Plant-health area of the site", _AREA),
        _field("region", "Region of the site", "district,village,town,ort"),
        _field("no_propagation_contract", "Bought under a contract against propagation", "no propagation,licensed", "flag"),
        _field("rights_note", "Note on rights", "rights,licence", "note"),
        _field("provisional", "To be finished", "unfinished", "flag"),
        _field("their_number", "Number in the list", "no,nr,number,tree no,tree number,tree nr,tree id,tag,label no,baum nr,numero",
               samples="17|18"),
        _field("note", "Note", _NOTE, "note", samples="leans to the east|"),
    ),
    ListSort.PEOPLE: (
        _field("name", "Name", "full name,member name,who,person,nom,mitglied", needed=True,
               samples="Tilde Ashgrove|Hollow Lane Fruit Club"),
        _field("kind", "Member, guest or other club", "type,sort,status,membership,art,member guest club", samples="member|club",
               hint="member where nothing is told"),
        _field("email", "E-mail", "mail,e mail address,email address,mail address,courriel", samples="tilde@ashgrove.example|"),
        _field("phone", "Telephone", "phone,mobile,phone number,tel,telefon,telephone number,cell", samples="|01632 960 117"),
        _field("address", "Address", "postal address,street,home address,adresse,anschrift", samples="2 Withy Bank|"),
        _field("area", "Plant-health area", _AREA, hint="where they live"),
        _field("keep_contact_for_recall", "Agrees that the contact is kept for a recall", "recall,keep contact,contact for recall", "flag",
               samples="yes|"),
        _field("their_number", "Number in the list", "no,nr,number,member no,membership number,member number,mitgliedsnummer",
               samples="17|"),
        _field("note", "Note", _NOTE, "note", samples="cuts on Saturdays|sends wood in February"),
    ),
    ListSort.WOOD: (
        _field("variety", "Variety", _VARIETY, samples="Bramley|Victoria"),
        _field("kind", "Kind", _KIND, samples="Apple|Plum"),
        _field("sticks", "Sticks", "how many,number of sticks,count,scions,pieces,anzahl,reiser,greffons", "count", needed=True,
               samples="12|6"),
        _field("cut_on", "Cut on", "date,cut,date cut,cutting date,day of cutting,geschnitten,coupe le", "day",
               samples="2026-01-17|2026-01-31", hint="needed for wood of a tree of the record"),
        _field("tree", "Tree of the record", "source tree,tree,tree number in the record,tree code",
               hint="its number there, or the code of its tag; empty for wood from outside"),
        _field("owner_agreed", "How the owner agreed", "owner agreed,permission of the owner", hint="where the owner is to be asked"),
        _field("from_whom", "From whom", "donor,giver,source,received from,sent by,von wem,de qui",
               samples="Hollow Lane Fruit Club|Bo Fenwick"),
        _field("came_on", "Received on", "received,date received,came,arrived,erhalten", "day", samples="2026-02-03|"),
        _field("their_reference", "Their reference", "reference,ref,accession", samples="HL-12|"),
        _field("health_paper", "Health paper", "certificate,paper,phytosanitary", samples="none|"),
        _field("tree_as_told", "Their tree, as told", "tree as told,mother tree"),
        _field("area", "Plant-health area it grew in", _AREA),
        _field("wood", "Dormant or summer wood", "type of wood,wood,season", hint="dormant where nothing is told"),
        _field("store", "Store", "fridge,where kept,kept at,cold store,kuehlschrank,frigo", hint="a store of the record"),
        _field("place", "Place in the store", "shelf,place,drawer,regal"),
        _field("box", "Box", "crate,bag,box name,kiste", hint="made new where the record has none of that name"),
        _field("stored_on", "Lies there since", "stored on,since", "day"),
        _field("holder", "Who has it now", "handed to,given to,holder,with whom,taken by", hint="where it was handed on"),
        _field("old_code", "Code on the old label", "code,label,label code,tag,old label,etikett", samples="K-17|K-18"),
        _field("note", "Note", _NOTE, "note", samples="thick sticks|"),
    ),
    ListSort.GRAFTS: (
        _field("done_on", "Grafted on", "date,grafted,grafting date,day,veredelt am,greffe le", "day", needed=True,
               samples="2025-04-05|2025-04-12"),
        _field("variety", "Variety", _VARIETY + ",scion,scion variety,edelsorte", samples="Bramley|Victoria"),
        _field("kind", "Kind", _KIND, samples="Apple|Plum"),
        _field("code", "Code of the bundle", "bundle,bundle code,scion code,wood code",
               hint="of the record; empty for wood that is not in it"),
        _field("from_whom", "From whom the wood was", "donor,giver,source,wood from,from whom,von wem", samples="Bo Fenwick|"),
        _field("area", "Plant-health area the wood grew in", _AREA),
        _field("sticks", "Sticks used", "sticks,number of sticks,scions used", "count", hint="as many as grafts where nothing is told"),
        _field("stock", "Rootstock", "stock,on,unterlage,porte greffe,grafted on,understock", samples="M.9|St. Julien A"),
        _field("stock_tree", "Standing tree that was worked over", "tree,tree worked over,topworked tree,stock tree",
               hint="its number in the record, or the code of its tag"),
        _field("method", "Method", "graft method,technique,veredelungsart,type of graft", samples="whip and tongue|"),
        _field("grafts", "How many", "grafts,number,count,number of grafts,anzahl", "count", samples="3|1"),
        _field("plants", "How many plants", "plants,number of plants", "count", hint="as many as grafts where nothing is told"),
        _field("by_whom", "By whom", "grafter,who,grafted by,made by,von,par", samples="Tilde Ashgrove|"),
        _field("holder", "Who has the plants", "owner,belongs to,plants with"),
        _field("took", "Took", "taken,success,result,alive,took how many,angewachsen,reussi", samples="2 of 3|not judged",
               hint="a count, 2 of 3, yes, no, or not judged"),
        _field("judged_on", "Judged on", "checked on,date checked,date judged", "day", samples="2025-07-01|"),
        _field("site", "Site", "orchard,garden,nursery,location,standort,verger"),
        _field("where", "Where the plants stand", "row,place,position,bed,pot,spot,platz", samples="nursery bed 2|"),
        _field("their_number", "Number in the list", "no,nr,graft no,graft number,label no"),
        _field("note", "Note", _NOTE, "note", samples="|tied with tape"),
    ),
}  # fmt: skip


def fields_of(sort: ListSort) -> dict[str, ListField]:
    return {field.name: field for field in FIELDS[sort]}


def guess_columns(sort: ListSort, header: Sequence[str]) -> dict[str, str]:
    """Which column tells what, by its heading: a field's own word first, then what else it is called, then what begins or ends so."""
    left = {heading: fold_heading(heading) for heading in header}
    found: dict[str, str] = {}
    for fits in (_is_called, _is_known, _is_like):
        for field in FIELDS[sort]:
            for heading, folded in left.items():
                if field.name not in found and heading not in found.values() and fits(folded, field):
                    found[field.name] = heading
    return found


def _is_called(folded: str, field: ListField) -> bool:
    return folded in (fold_heading(field.words), fold_heading(field.name.replace("_", " ")))


def _is_known(folded: str, field: ListField) -> bool:
    return folded in field.headings


def _is_like(folded: str, field: ListField) -> bool:
    return any(
        folded.startswith(word + " ") or folded.endswith(" " + word)
        for word in field.headings
        if len(word) > 3
    )


def check_columns(sort: ListSort, columns: Mapping[str, str], header: Sequence[str]) -> None:
    """Raises `NoSuchColumn` for a thing or a heading that is not there, and for a column told twice."""
    known = fields_of(sort)
    for name, heading in columns.items():
        if name not in known:
            raise NoSuchColumn(
                f"A list of {sort.value} tells nothing called “{name[:60]}”.", field=f"column.{name[:60]}"
            )
        if heading not in header:
            raise NoSuchColumn(f"No column is headed “{heading[:60]}”.", field=f"column.{name}")
    told = list(columns.values())
    twice = next((name for name, heading in columns.items() if told.count(heading) > 1), "")
    if twice:
        raise NoSuchColumn(
            f"The column “{columns[twice][:60]}” is chosen for two things.", field=f"column.{twice}"
        )
