"""The words museums head their columns with, in several languages.

English, German, French, Spanish, Dutch, and the Latin names of bones. Words are compared
without capitals, accents and punctuation.
"""

import re
import unicodedata

from bonewright.study.bone_codes import CODES_OF_ELEMENT, ELEMENTS, MEASUREMENT_CODES

__all__ = ["code_of", "element_of", "plain", "role_of", "value_of"]

_ROLES: dict[str, str] = {
    "materialEntityID": "bone id, specimen id, bone, knochen id, id, os id, hueso id, bot id,"
    " record id, datensatz, materialentityid, occurrenceid",
    "institutionCode": "collection, institution, museum, institutioncode, sammlung, institut,"
    " musee, museo, coleccion, collectie, instelling",
    "catalogNumber": "catalogue number, catalog number, cat no, catalogue no, number, no,"
    " accession number, registration number, inventory number, catalognumber, katalognummer,"
    " inventarnummer, inv nr, nummer, nr, numero, numero d inventaire, no inv, numero de catalogo,"
    " registratienummer, inventarisnummer, reg no",
    "organismID": "individual, individual no, skeleton, animal, organismid, individuum, skelett,"
    " tier, individu, squelette, individuo, esqueleto, skelet, dier",
    "element": "element, bone element, anatomy, skelettelement, knochen, ossement, os, hueso,"
    " elemento, bot, skeletelement, part",
    "side": "side, body side, seite, korperseite, cote, lateralite, lado, lateralidad, zijde, kant",
    "sex": "sex, geschlecht, sexe, sexo, geslacht",
    "lifeStage": "age, age class, life stage, lifestage, alter, altersklasse, stade, age, edad,"
    " leeftijd",
    "preparations": "preparation, preparations, material, kind, praparat, praparation, art,"
    " preparation, preparacion, preparaat",
    "preservation": "preservation, condition, state, erhaltung, zustand, etat, conservation,"
    " estado, conservacion, conservering, toestand",
    "measurementDeterminedBy": "observer, measured by, measurer, gemessen von, bearbeiter,"
    " mesure par, observateur, medido por, observador, gemeten door",
    "measurementDeterminedDate": "date, date measured, measured on, datum, messdatum, fecha",
    "measurementMethod": "instrument, method, messgerat, methode, metodo, instrumento",
    "measurementUnit": "unit, units, einheit, unite, unidad, eenheid",
    "materialEntityRemarks": "remarks, notes, comment, comments, bemerkung, bemerkungen, notiz,"
    " remarques, observaciones, notas, opmerkingen, opmerking",
}
_ELEMENTS: dict[str, str] = {
    "skull": "cranium, schadel, schaedel, crane, craneo, schedel, calvaria",
    "mandible": "mandibula, lower jaw, unterkiefer, mandibule, onderkaak",
    "sternum": "breastbone, brustbein, esternon, borstbeen",
    "coracoid": "coracoideum, rabenbein, coracoide, ravenbeksbeen, cor",
    "scapula": "shoulder blade, schulterblatt, omoplate, escapula, schouderblad, sca",
    "furcula": "wishbone, gabelbein, fourchette, vorkbeen, clavicula",
    "humerus": "oberarm, oberarmbein, oberarmknochen, humero, opperarmbeen, hum",
    "radius": "speiche, radio, spaakbeen, rad",
    "ulna": "elle, cubitus, cubito, ellepijp, uln",
    "carpometacarpus": "carpometacarpe, carpometacarpo, cmc, mittelhand",
    "pelvis": "becken, synsacrum, bassin, bekken, pel",
    "femur": "thigh bone, thighbone, oberschenkel, oberschenkelknochen, dijbeen, fem",
    "tibiotarsus": "tibia, tibiotarse, tibiotarso, schienbein, unterschenkel, scheenbeen, tbt",
    "tarsometatarsus": "tarsometatarse, tarsometatarso, laufbein, lauf, loopbeen, metatarsus, tmt",
    "phalanx": "phalange, falange, toe bone, zehenknochen, teenkootje, phalanges",
}
_CODES: dict[str, str] = {
    "GL": "greatest length, total length, length, grosste lange, groesste laenge, gesamtlange,"
    " lange, longueur maximale, longueur totale, longueur, longitud maxima, longitud,"
    " grootste lengte, lengte",
    "Bp": "proximal breadth, breadth proximal, proximal width, breite proximal, proximale breite,"
    " largeur proximale, anchura proximal, proximale breedte",
    "Bd": "distal breadth, breadth distal, distal width, breite distal, distale breite,"
    " largeur distale, anchura distal, distale breedte",
    "Dp": "proximal depth, depth proximal, tiefe proximal, proximale tiefe, epaisseur proximale,"
    " profundidad proximal, proximale diepte",
    "Dd": "distal depth, depth distal, tiefe distal, distale tiefe, epaisseur distale,"
    " profundidad distal, distale diepte",
    "SC": "smallest breadth of shaft, least shaft width, shaft breadth, kleinste breite,"
    " kleinste breite der diaphyse, largeur minimale, anchura minima, kleinste breedte, sd, kc",
    "CD": "least circumference, shaft circumference, circumference, kleinster umfang, umfang,"
    " circonference, circonference minimale, circunferencia, circunferencia minima, omtrek",
}
_VALUES: dict[str, dict[str, str]] = {
    "side": {
        "left": "l, li, links, left, sin, sinister, gauche, g, izquierdo, izquierda, izq",
        "right": "r, re, rechts, right, dex, dexter, droite, droit, d, derecho, derecha, der",
        "midline": "midline, median, unpaired, mitte, unpaarig, impair, impar",
        "unknown": "unknown, indet, unbekannt, inconnu, desconocido, onbekend",
    },
    "sex": {
        "female": "f, female, w, weiblich, weibchen, femelle, hembra, vrouw, vrouwelijk",
        "male": "m, male, mannlich, mannchen, macho, man, mannelijk, mâle",
        "unknown": "unknown, indet, unbekannt, inconnu, desconocido, onbekend, u",
    },
    "lifeStage": {
        "adult": "ad, adult, adultus, adulte, adulto, erwachsen, volwassen",
        "subadult": "subad, subadult, subadulte, subadulto",
        "juvenile": "juv, juvenile, jung, juvenil, jeune, jong, joven, chick",
        "unknown": "unknown, indet, unbekannt, inconnu, desconocido, onbekend",
    },
    "preparations": {
        "bone": "bone, original, knochen, os, hueso, bot",
        "cast": "cast, abguss, moulage, molde, afgietsel, replica",
        "print": "print, 3d print, druck, impression, impresion",
        "mounted": "mounted, mount, montiert, monte, montado, gemonteerd",
    },
    "preservation": {
        "complete": "complete, whole, vollstandig, ganz, complet, completo, volledig, heel",
        "broken": "broken, fragment, fragmentary, incomplete, gebrochen, fragmentiert,"
        " unvollstandig, casse, fragmentaire, incomplet, roto, incompleto, gebroken, proximal,"
        " distal",
        "weathered": "weathered, eroded, verwittert, erode, erosionado, verweerd",
    },
}


def plain(text: str) -> str:
    """Return text without capitals, accents and punctuation, words one blank apart."""
    folded = unicodedata.normalize("NFKD", text.replace("ß", "ss").casefold())
    bare = "".join(sign for sign in folded if not unicodedata.combining(sign))
    return " ".join(re.sub(r"[^0-9a-z]+", " ", bare).split())


def _index(words: dict[str, str]) -> dict[str, str]:
    return {plain(word): key for key, listed in words.items() for word in listed.split(",")}


_ROLE_OF = _index(_ROLES) | {plain(role): role for role in _ROLES}
_ELEMENT_OF = _index(_ELEMENTS) | {element: element for element in ELEMENTS}
_CODE_OF = _index(_CODES)
_VALUE_OF = {column: _index(values) for column, values in _VALUES.items()}


def role_of(header: str) -> str | None:
    """Return the column of the specimens or measurements table that a header means."""
    return _ROLE_OF.get(plain(header))


def element_of(text: str) -> str | None:
    """Return the element a text names, also inside a longer text ('left femur, distal')."""
    words = plain(text)
    if words in _ELEMENT_OF:
        return _ELEMENT_OF[words]
    found = {_ELEMENT_OF[word] for word in words.split() if word in _ELEMENT_OF}
    return found.pop() if len(found) == 1 else None


def code_of(header: str, element: str | None) -> str | None:
    """Return the measurement code a header means; ``element`` helps where capitals are lost."""
    word = header.strip()
    if word in MEASUREMENT_CODES:
        return word
    alike = [code for code in MEASUREMENT_CODES if code.casefold() == word.casefold()]
    fitting = [c for c in alike if element is None or c in CODES_OF_ELEMENT[element]]
    if len(fitting) == 1:
        return fitting[0]
    return _CODE_OF.get(plain(header))


def value_of(column: str, text: str) -> str | None:
    """Return the choice of a column that a word in some language means."""
    return _VALUE_OF.get(column, {}).get(plain(text))
