"""The invented pictures, accounts and old mount."""

from typing import Final

import numpy as np
from demo_animal import SEX_FACTOR

Row = dict[str, str]

CHANGE_YEAR: Final = 1697

# year or span | what it is | drawn from | place
_ORIGINALS: Final = """
1641|pen sketch, bird beside a water cask|life|Merrowend
1643/1646|wash drawing, head and foot|dead specimen|Merrowend
1652|log-book sketch, two birds walking|life|Merrowend
1658|pencil study, bird standing in profile|dead specimen|aboard ship
1664/1668|oil sketch, bird among grasses|unknown|home port
1671|ink drawing, bird with a raised leg|life|Merrowend
1679|coloured drawing, bird and chick|life|Merrowend
1686|chart ornament, bird below a compass|unknown|home port
1693|red chalk, bird from behind|dead specimen|home port
1701|oil painting, bird in a yard|life|home port
1708|engraving, bird with fruit|unknown|home port
1714/1719|painted tile, bird in a garden|unknown|home port
1725|water colour, caged bird|life|home port
1733|oil painting, bird in a menagerie|life|home port
1742|plate of a natural history, bird in profile|dead specimen|home port
1755|woodcut, bird with open bill|unknown|home port
"""
# The fatness that each original shows.
_ORIGINAL_FATNESS: Final = (
    2.0,
    2.5,
    1.5,
    3.0,
    2.0,
    3.5,
    2.0,
    3.0,
    2.5,
    4.0,
    2.5,
    3.5,
    4.5,
    2.0,
    3.0,
    4.0,
)
# year | number of the original, from 1 | what it is
_COPIES: Final = """
1649|1|copy in a manuscript, bird beside a cask
1705|10|small copy in oils, bird in a yard
1712|10|mirror-image engraving, bird in a yard
1728|13|printed sheet after the caged bird
1731|13|fan leaf after the caged bird
1738|10|tapestry drawing, bird in a yard
1747|13|encyclopaedia plate after the caged bird
1759|16|chapbook cut, bird with open bill
"""
SCORERS: Final = {"scorer 1": 0.0, "scorer 2": 0.2, "scorer 3": -0.15}


def picture_rows(rng: np.random.Generator) -> tuple[list[Row], list[Row], dict[str, str]]:
    """Return rows of pictures and picture_marks, and who copied whom."""
    drawn: list[tuple[str, int | None, str, str, str, float]] = []
    originals = [line.split("|") for line in _ORIGINALS.strip().splitlines()]
    for (date, title, source, place), fatness in zip(originals, _ORIGINAL_FATNESS, strict=True):
        drawn.append((date, None, title, source, place, fatness))
    for line in _COPIES.strip().splitlines():
        date, number, title = line.split("|")
        fatness = _ORIGINAL_FATNESS[int(number) - 1]
        drawn.append((date, int(number) - 1, title, "another picture", "home port", fatness))
    order = sorted(range(len(drawn)), key=lambda i: (drawn[i][0][:4], i))
    name = {index: f"pic-{place:02d}" for place, index in enumerate(order, start=1)}
    copied: dict[str, str] = {}
    pictures: list[Row] = []
    marks: list[Row] = []
    for index in order:
        date, original, title, source, place, fatness = drawn[index]
        if original is not None:
            copied[name[index]] = name[original]
        pictures.append(
            {
                "pictureID": name[index],
                "title": title,
                "eventDate": date,
                "drawnFrom": source,
                "copyOf": "" if original is None else name[original],
                "creator": "unknown hand",
                "locality": place,
                "reliability": {"life": "high", "dead specimen": "fair"}.get(source, "poor"),
                "reliabilityReason": {
                    "life": "inscribed as drawn before the living bird",
                    "dead specimen": "made from a dead bird, posture guessed",
                    "another picture": "copies another picture",
                }.get(source, "nothing says what it was drawn from"),
                "sourceID": "src-11",
            }
        )
        for scorer, bias in SCORERS.items():
            score = np.clip(round((fatness + bias + rng.normal(0, 0.3)) * 2) / 2, 1, 5)
            marks.append(
                {
                    "measurementID": f"k-{len(marks) + 1:03d}",
                    "pictureID": name[index],
                    "measurementType": "fatness",
                    "measurementValue": f"{score:g}",
                    "measurementDeterminedBy": scorer,
                }
            )
    return pictures, marks, copied


# date | title | standing | copy of (number from 1) | writer | passage
_ACCOUNTS: Final = """
1642|log of a landing party|eyewitness||ship's officer|Great fowls that cannot fly; they run before us over the stones; we killed two.
1651/1653|letter from the anchorage|eyewitness||clerk|They stand as high as a man's belt and are lean but sweet.
1660|pilot's description of the island|second hand||pilot|A bird of thirty pounds, swift of foot, with no wings to speak of.
1677|journal of a survey|eyewitness||surveyor|Weighed one: four and thirty pounds. It outran the dogs on the open ground.
1689|report to the harbour office|eyewitness||storekeeper|The fowls are thin after the dry months, and weigh seven and twenty pounds.
1704|description of a menagerie|eyewitness||keeper|The bird is so fat that it waddles; it was found to weigh eight and forty pounds.
1711|traveller's book|copied|6|compiler|A waddling bird of eight and forty pounds, as the keeper says.
1730|natural history of far islands|second hand||compiler|It is slow and heavy, near fifty pounds, three feet in height.
1752|recollections of an old seaman|second hand||seaman|My captain said they ran like the wind and stood above the knee.
"""
# account (number from 1) | about | value | unit | in words | remarks
_CLAIMS: Final = """
1|movement|||runs over stones|
1|other|||cannot fly|
2|height|3|ft|as high as a man's belt|the belt taken as three feet
2|fatness|||lean|
3|weight|30|lb|thirty pounds|
3|movement|||swift of foot|
4|weight|34|lb|four and thirty pounds, weighed|
4|movement|||outran dogs on open ground|
5|weight|12.2|kg|seven and twenty pounds|the port's pound taken as 0.453 kg
5|fatness|||thin after the dry months|
6|weight|48|lb|eight and forty pounds, weighed|
6|fatness|||very fat, waddles|
7|weight|48|lb|eight and forty pounds|
7|movement|||waddles|
8|weight|50|lb|near fifty pounds|
8|height|3|ft|three feet in height|
8|movement|||slow and heavy|
9|height|0.8|m|stood above the knee|the back, not the head, taken to be meant
9|movement|||ran like the wind|
"""


def account_rows() -> tuple[list[Row], list[Row], dict[str, str]]:
    """Return rows of accounts and claims, and who copied whom."""
    accounts: list[Row] = []
    copied: dict[str, str] = {}
    for number, line in enumerate(_ACCOUNTS.strip().splitlines(), start=1):
        date, title, standing, copy_of, writer, passage = line.split("|")
        original = f"acc-{int(copy_of):02d}" if copy_of else ""
        if original:
            copied[f"acc-{number:02d}"] = original
        accounts.append(
            {
                "accountID": f"acc-{number:02d}",
                "title": title,
                "eventDate": date,
                "standing": standing,
                "copyOf": original,
                "creator": writer,
                "passage": passage,
                "reliability": {"eyewitness": "high", "second hand": "fair"}.get(standing, "poor"),
                "reliabilityReason": {
                    "eyewitness": "the writer saw the bird",
                    "second hand": "the writer had it from others",
                }.get(standing, "copies another account"),
                "sourceID": "src-12",
            }
        )
    claims: list[Row] = []
    for number, line in enumerate(_CLAIMS.strip().splitlines(), start=1):
        account, kind, value, unit, words, remarks = line.split("|")
        claims.append(
            {
                "claimID": f"clm-{number:02d}",
                "accountID": f"acc-{int(account):02d}",
                "claimType": kind,
                "measurementValue": value,
                "measurementUnit": unit,
                "statement": words,
                "claimRemarks": remarks,
            }
        )
    return accounts, claims, copied


# what | element | code | least and most soft tissue, mm | fault as a factor, 1 for none
_MOUNT: Final = """
length of the head without the bill sheath|skull|CBL|2|8|1.30
breadth of the head|skull|GB|4|12|1
depth of the head|skull|GH|4|12|1.62
length of the lower jaw|mandible|GL|1|6|1
length of the breast bone, felt through the skin|sternum|LM|2|12|0.66
length of the upper arm|humerus|GL|2|10|1
length of the forearm|ulna|GL|1|8|1
breadth across the hips|pelvis|AA|10|40|1
length of the thigh|femur|GL|4|20|1
length of the lower leg|tibiotarsus|GL|4|18|0.70
length of the shank|tarsometatarsus|GL|3|12|1.36
breadth of the foot's root|tarsometatarsus|Bd|2|8|1
"""


def mount_rows(
    rng: np.random.Generator, average_mm: dict[tuple[str, str], float]
) -> tuple[list[Row], list[str]]:
    """Return the rows of the old mount and the ids of the five that are wrong."""
    rows: list[Row] = []
    wrong: list[str] = []
    size = SEX_FACTOR["male"] * 0.99
    for number, line in enumerate(_MOUNT.strip().splitlines(), start=1):
        title, element, code, low, high, fault = line.split("|")
        flesh = float(low) + (float(high) - float(low)) * float(rng.uniform(0.3, 0.7))
        right = average_mm[element, code] * size * float(np.exp(rng.normal(0, 0.013))) + flesh
        identifier = f"mt-{number:02d}"
        if float(fault) != 1:
            wrong.append(identifier)
        rows.append(
            {
                "measurementID": identifier,
                "mountID": "mount-1",
                "title": title,
                "element": element,
                "measurementType": code,
                "measurementValue": f"{right * float(fault):.0f}",
                "measurementUnit": "mm",
                "allowanceLow": low,
                "allowanceHigh": high,
                "sourceID": "src-13",
                "measurementRemarks": "taken over the skin, gloves and mask worn",
            }
        )
    return rows, wrong
