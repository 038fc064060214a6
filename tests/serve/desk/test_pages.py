"""The desk's pages as people of each role get them."""

from __future__ import annotations

import html
import io
import re
from datetime import timedelta
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest
from PIL import Image

from _desk_world import desk_of, settle
from _served import OTHER, OWN, World, picture
from tepal.ledger import Letter, Plant

PAGES = ("/", "/calls", "/calls/new", "/people", "/leave", f"/sites/{OWN}", f"/sites/{OWN}/aerial")


class Page(HTMLParser):
    """What of a page the tests ask for: its links, and whatever a strict policy would not run."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loose: list[str] = []
        self.tokens = 0
        self.forms = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        if tag == "a" and told.get("href"):
            self.links.append(str(told["href"]))
        if tag == "style" or (tag == "script" and not told.get("src")):
            self.loose.append(tag)
        self.loose += [name for name in told if name.startswith("on") or name == "style"]
        self.loose += [v for v in told.values() if v and v.strip().lower().startswith("javascript:")]
        self.forms += tag == "form" and told.get("method") == "post"
        self.tokens += told.get("name") == "form_token" and bool(told.get("value"))


def crawl(world: World, who: str, start: str = "/", most: int = 60) -> dict[str, Any]:
    """Every page that is reached by links from the first one, as a person gets it; letters and the phone apart."""
    found: dict[str, Any] = {}
    ahead = [start]
    while ahead and len(found) < most:
        path = ahead.pop(0)
        plain = path.partition("#")[0]
        if plain in found or plain.startswith(("/phone", "/photos")) or "/letter." in plain:
            continue
        answer = world.get(who, plain)
        found[plain] = answer
        if "text/html" in answer.headers.get("content-type", ""):
            links = (urljoin(f"https://testserver{plain}", link) for link in Page(answer.text).links)
            ahead += [
                link.removeprefix("https://testserver") for link in links if urlsplit(link).netloc == "testserver"
            ]
    return found


@pytest.mark.parametrize("who", ["Cora", "Sam", "Gil", "Lena"])
def test_every_link_that_a_person_is_shown_leads_somewhere_for_them_and_no_page_has_anything_inline(
    county: World, who: str
) -> None:
    county.add("new report", "report", {"how": "text", "words": "More of them"})
    county.office.assign(county.ids["Sam"], entry=county.made["new report"], now=county.clock())
    settle(county)
    pages = crawl(county, who)
    assert {path: answer.status_code for path, answer in pages.items() if answer.status_code != 200} == {}
    assert len(pages) >= {"Cora": 30, "Sam": 15, "Gil": 1, "Lena": 1}[who]
    if who == "Cora":
        assert sum("/why?" in path for path in pages) > 5
        assert sum(path.startswith("/plants/") for path in pages) >= 2
    for path, answer in pages.items():
        if "text/html" not in answer.headers["content-type"] or who in ("Gil", "Lena"):
            continue
        page = Page(answer.text)
        assert page.loose == [], path
        assert page.tokens == page.forms, path
        assert "unsafe-inline" not in answer.headers["content-security-policy"]


def test_a_scout_is_told_nothing_of_a_site_that_is_not_theirs(county: World) -> None:
    secret = ("North Eighty", OTHER, "-96.32", "41.61", "Farmer of", county.made["other plant"], "Gil")
    pages = crawl(county, "Sam")
    assert f"/sites/{OWN}" in pages
    for path, answer in pages.items():
        for told in secret:
            assert told not in answer.text, (path, told)
    for path in (f"/sites/{OTHER}", f"/plants/{county.made['other plant']}", f"/calls/{county.made['other report']}"):
        assert county.get("Sam", path).status_code == 404
    # The coordinator's own first page does hold them: the test would notice.
    assert "North Eighty" in county.get("Cora", "/").text
    # The marks of the map are laid out by the asker's own places alone: another place elsewhere moves none of them.
    before = county.get("Sam", "/").text
    county.add("moved", "site", {"name": "North Eighty", "ground": "ditch", "point": [-99.0, 40.0]}, site=OTHER)
    settle(county)
    assert re.findall(r"<svg.*?</svg>", county.get("Sam", "/").text) == re.findall(r"<svg.*?</svg>", before)


def test_who_farms_it_is_the_offices_to_know(county: World) -> None:
    assert "Farmer of Creek Bottom" in county.get("Cora", f"/sites/{OWN}").text
    text = county.get("Sam", f"/sites/{OWN}").text
    assert "Farmer of" not in text
    assert "we may go in" in text  # who let us in a scout has to know, and that nobody did


HOSTILE = """<script>alert(1)</script>"onmouseover='x' {{7*7}} =1+1"""


def test_hostile_names_and_words_are_shown_and_do_nothing(county: World) -> None:
    body = {"name": HOSTILE, "ground": "field", "point": [-96.19, 41.5], "region": "CB"}
    county.add("bad", "site", body, amends=county.made["own ground"])
    county.add("bad report", "report", {"how": "text", "words": HOSTILE, "who": HOSTILE, "place": {"words": HOSTILE}})
    county.add("bad party", "party", {"name": HOSTILE, "roles": ["owner"], "contact": HOSTILE})
    county.office.add_person(HOSTILE, "scout", now=county.clock())
    settle(county)
    shown = 0
    for path, answer in crawl(county, "Cora").items():
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        assert "<script>alert" not in answer.text, path
        assert "49 =1+1" not in answer.text, path
        shown += html.escape(HOSTILE, quote=False)[:20] in answer.text
        assert Page(answer.text).loose == [], path
    assert shown > 5


def test_a_page_can_be_looked_back_at_and_no_day_is_too_odd(county: World) -> None:
    earlier = (county.settings.today() - timedelta(days=200)).isoformat()
    page = county.get("Cora", f"/?on={earlier}")
    assert page.status_code == 200
    assert "You are looking back" in page.text
    assert f"on={earlier}" in page.text
    for odd in ("0001-01-01", "9999-12-31", "1989-12-31"):
        assert county.get("Cora", f"/?on={odd}").status_code == 422
    assert county.get("Cora", "/?on=yesterday").status_code == 422


def test_from_a_report_to_a_reply_in_three_steps(county: World) -> None:
    county.add("other new", "report", {"how": "call", "words": "And here?"}, site=OTHER)
    report = county.add("own new", "report", {"how": "call", "words": "Pigweeds at Creek Bottom again"})
    first = county.get("Cora", f"/calls/{report}").text
    assert "Pigweeds at Creek Bottom" in first
    second = county.get("Cora", f"/calls/{report}?step=2").text
    assert "How far along is the plant?" in second
    path = f"/calls/{report}?step=2&stage=vegetative"
    asked = 0
    while "Keep this as a plant" not in (text := county.get("Cora", path).text):
        # The first answer to each question, until something is known.
        path = html.unescape(re.findall(r'<li[^>]*><a href="(/calls/[^"]*look=[^"]*)"', text)[0])
        asked += 1
        assert asked < 5
    looks = re.findall(r'name="look" value="([^"]*)"', text)
    kept = county.ask("Cora", "POST", f"/calls/{report}/plant", data={"stage": "vegetative", "look": looks},
                      follow_redirects=False)  # fmt: skip
    assert kept.status_code == 303
    added = county.ledger.entries(OWN, kinds=("plant",))[-1]
    assert isinstance(added.body, Plant)
    assert (added.by, added.body.seen_by) == ("Cora", "photo")
    assert {f"{name}:{value}" for name, value in added.body.looks.items()} == set(looks)
    settle(county)
    third = county.get("Cora", kept.headers["location"]).text
    reply = html.unescape(re.findall(r"<textarea[^>]*>(.*?)</textarea>", third, re.DOTALL)[0])
    assert "Creek Bottom" in reply
    answered = county.ask("Cora", "POST", f"/calls/{report}/answer", data={"text": reply}, follow_redirects=False)
    assert answered.status_code == 303
    letter = county.ledger.entries(OWN, kinds=("letter",))[-1]
    assert isinstance(letter.body, Letter)
    assert (letter.by, letter.body.signed_by, letter.body.text) == ("Cora", "Cora", reply.strip())
    waiting = county.get("Cora", "/calls").text.partition("<details")[0]
    assert report not in waiting
    assert county.made["other new"] in waiting


def test_a_call_is_written_down_by_whoever_is_signed_in(county: World) -> None:
    sent = {"how": "call", "words": "Red stems by the gate", "caller": "a neighbor", "site": OWN, "answer_by": ""}
    made = county.ask("Cora", "POST", "/calls", data=sent, follow_redirects=False)
    assert made.status_code == 303
    entry = county.ledger.entries(OWN, kinds=("report",))[-1]
    assert entry.by == "Cora"
    assert "Red stems by the gate" in county.get("Cora", made.headers["location"]).text
    for bad in ({"how": "smoke"}, {"words": ""}, {"answer_by": "soon"}):
        before = county.ledger.last_seq
        assert county.ask("Cora", "POST", "/calls", data=sent | bad).status_code == 422
        assert county.ledger.last_seq == before


@pytest.mark.parametrize("look", ["nonsense:none", "stem_hair_upper", "petiole_blade_ratio_lower:long", ":", "a" * 200])
def test_looks_in_an_address_that_are_none_are_refused(county: World, look: str) -> None:
    answer = county.get(
        "Cora", f"/calls/{county.made['own report']}", params={"step": 2, "stage": "vegetative", "look": look}
    )
    assert answer.status_code == 422


def test_people_are_entered_invited_given_sites_and_shown_out(county: World) -> None:
    page = county.ask("Cora", "POST", "/people", data={"name": "Nia", "role": "scout"})
    assert page.status_code == 200
    link = html.unescape(re.findall(r'id="link" readonly value="([^"]*)"', page.text)[0])
    code = link.partition("#")[2]
    joined = county.ask(None, "POST", "/join", json={"code": code, "device": "a phone", "hold": "token"})
    assert joined.status_code == 201
    county.tokens["Nia"] = joined.json()["token"]
    nia = next(one.id for one in county.office.people() if one.name == "Nia")
    assert county.get("Nia", f"/sites/{OWN}").status_code == 404
    for act, status in (("assign", 200), ("unassign", 404)):
        county.ask("Cora", "POST", f"/people/{nia}/{act}", data={"site": OWN})
        assert county.get("Nia", f"/sites/{OWN}").status_code == status
    assert county.ask("Cora", "POST", f"/people/{nia}/assign", data={"site": "nowhere"}).status_code == 422
    # Typed as people write it; of two sites of one name it is asked which is meant.
    county.ask("Cora", "POST", f"/people/{nia}/assign", data={"site": " creek BOTTOM"})
    assert county.get("Nia", f"/sites/{OWN}").status_code == 200
    for id in ("home-a", "home-b"):
        county.add(id, "site", {"name": "Home Place", "ground": "field"}, site=id)
    assert county.ask("Cora", "POST", f"/people/{nia}/assign", data={"site": "Home Place"}).status_code == 422
    listed = county.get("Cora", "/people").text
    assert re.findall(r'<option value="([^"]*)">Home Place</option>', listed) == ["home-a", "home-b"]
    assert listed.count('<option value="Creek Bottom">') == 1
    # Who is entered in haste does not see everything.
    assert re.findall(r'<option value="(\w+)" selected>(?:Coord|Scout|Grower|Labor)', listed) == ["scout"]
    text = county.get("Cora", "/people").text
    assert "a phone: used today." in text
    assert code not in text
    device = county.office.devices(nia)[0].id
    county.ask("Cora", "POST", f"/people/devices/{device}/revoke")
    assert county.get("Nia", "/").status_code == 401
    # One tap shows nobody out: the button stands behind a word on what it does.
    listed = county.get("Cora", "/people").text
    asked = [part for part in re.findall(r"<details class=.sure.>.*?</details>", listed, re.S) if nia in part]
    assert len(asked) == 1
    assert "Every device and invitation of Nia" in asked[0]
    assert listed.count(f"/people/{nia}/leave") == 1
    county.ask("Cora", "POST", f"/people/{nia}/leave")
    assert "Left on" in county.get("Cora", "/people").text
    assert county.ask("Cora", "POST", f"/people/{county.ids['Cora']}/leave").status_code == 409


def test_a_form_without_its_token_changes_nothing(county: World) -> None:
    client = county.client
    client.cookies.set("__Host-tepal", county.tokens["Cora"], domain="testserver.local")
    headers = {"cookie": f"__Host-tepal={county.tokens['Cora']}", "origin": "https://testserver"}
    before = len(county.office.people())
    sent = {"name": "Eve", "role": "coordinator"}
    assert client.post("/people", data=sent, headers=headers).status_code == 403
    token = re.findall(r'name="form_token" value="([^"]*)"', client.get("/people", headers=headers).text)[0]
    elsewhere = headers | {"origin": "https://elsewhere.example"}
    assert client.post("/people", data=sent | {"form_token": token}, headers=elsewhere).status_code == 403
    assert len(county.office.people()) == before
    assert client.post("/people", data=sent | {"form_token": token}, headers=headers).status_code == 200
    assert len(county.office.people()) == before + 1


def test_pages_are_in_the_language_that_a_browser_chose_and_go_back_to_our_own_pages_only(county: World) -> None:
    sent = {"language": "es", "units": "metric", "back": f"/sites/{OWN}"}
    made = county.ask("Cora", "POST", "/wording", data=sent, follow_redirects=False)
    assert made.headers["location"] == f"/sites/{OWN}"
    cookie = made.headers["set-cookie"].partition(";")[0]
    page = county.get("Cora", f"/sites/{OWN}", headers={"cookie": cookie})
    assert '<html lang="es">' in page.text
    told = desk_of(county).readings.of(OWN, county.settings.today()).told["words"]
    assert told["es-metric"]["sentence"] != told["en-us"]["sentence"]
    assert told["es-metric"]["sentence"] in html.unescape(page.text)
    for away in ("https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)"):
        answer = county.ask("Cora", "POST", "/wording", data=sent | {"back": away}, follow_redirects=False)
        assert answer.headers["location"] == "/"


def test_a_letter_as_a_page_runs_under_its_own_style_alone(county: World) -> None:
    for form, start in (("pdf", b"%PDF"), ("html", b"<!doctype html>"), ("txt", b"")):
        answer = county.get("Sam", f"/sites/{OWN}/letter.{form}?for=owner")
        assert answer.status_code == 200
        assert answer.content.startswith(start)
    policy = county.get("Cora", f"/sites/{OWN}/letter.html").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert policy.count("'sha256-") == 1
    assert county.get("Cora", f"/sites/{OWN}/letter.html?for=nobody").status_code == 422


def test_a_picture_from_above_is_made_anew_and_told_to_the_phone(county: World) -> None:
    raw = io.BytesIO()
    image = Image.effect_noise((3000, 1500), 40).convert("RGB")
    exif = Image.Exif()
    exif[0x010E] = "secret place"
    image.save(raw, "JPEG", exif=exif)
    edges = {"west": "-96.21", "south": "41.49", "east": "-96.18", "north": "41.52"}

    def put(data: dict[str, str], content: bytes) -> int:
        files = {"picture": ("a.jpg", content, "image/jpeg")}
        status: int = county.ask(
            "Cora", "POST", f"/sites/{OWN}/aerial", data=data, files=files, follow_redirects=False
        ).status_code
        return status

    assert put(edges, raw.getvalue()) == 303
    told = county.get("Sam", "/today").json()["sites"][0]["aerial"]
    assert told["bounds"] == [-96.21, 41.49, -96.18, 41.52]
    given = county.get("Sam", told["url"])
    assert given.headers["content-type"] == "image/jpeg"
    assert b"secret place" not in given.content
    assert max(Image.open(io.BytesIO(given.content)).size) == 2048
    bomb = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(bomb, "PNG")
    for data, content in (
        (edges, b"not a picture"),
        (edges, raw.getvalue()[:5000]),
        (edges, bomb.getvalue()),
        (edges | {"west": "-95"}, raw.getvalue()),
        (edges | {"north": "nan"}, raw.getvalue()),
        (edges | {"east": "-80"}, raw.getvalue()),
    ):
        assert put(data, content) == 422
    # What was refused changed nothing.
    assert county.get("Sam", told["url"]).content == given.content
    assert county.ask("Cora", "POST", f"/sites/{OWN}/aerial/remove", follow_redirects=False).status_code == 303
    assert county.get("Sam", "/today").json()["sites"][0]["aerial"] is None


def test_a_voice_note_is_played_on_its_sites_page_and_nowhere_else(county: World) -> None:
    address = f"/sounds/{county.made['own recording']}"
    player = f'<audio controls preload="none" src="{address}"'
    page = county.get("Cora", f"/sites/{OWN}")
    assert player in page.text
    assert "media-src 'self'" in page.headers["content-security-policy"]
    assert player in county.get("Sam", f"/sites/{OWN}").text
    assert address not in county.get("Cora", f"/sites/{OTHER}").text
    assert county.get("Sam", f"/sounds/{county.made['other recording']}").status_code == 404


def test_a_phone_is_told_what_the_desk_shows(county: World) -> None:
    desk = desk_of(county)
    told = county.get("Sam", "/today").json()["sites"][0]
    shown = desk.readings.of(OWN, county.settings.today()).told["words"]["en-us"]
    assert told["sentence"] == shown["sentence"]
    assert [step["text"] for step in told["do"]] == [step["text"] for step in shown["do"]]
    result = {"step": "result", "test": "species", "taxon": "AMAPA", "sure": 0.99, "of": county.made["own plant"]}
    county.add("proved", "sample", result)
    settle(county)
    prior = county.get("Sam", "/today").json()["sites"][0]["prior"]
    usual = desk.readings.flora.weights("CB")
    assert sum(prior.values()) == pytest.approx(1)
    assert prior["AMAPA"] > 1.5 * usual["AMAPA"] / sum(usual.values())


def test_a_device_can_leave_by_itself(county: World) -> None:
    assert county.get("Tess", "/leave").status_code == 200
    gone = county.ask("Tess", "POST", "/leave/now")
    assert gone.status_code == 200
    assert "let in no longer" in gone.text
    assert county.get("Tess", "/").status_code == 401


def test_a_stranger_with_a_browser_gets_a_page_that_says_what_to_do(county: World) -> None:
    page = county.get(None, "/", headers={"accept": "text/html"})
    assert page.status_code == 401
    assert "<html" in page.text
    assert "invitation" in page.text
    assert picture(1)[0] not in page.text


def test_what_is_entered_in_the_evening_is_of_the_offices_day(county: World) -> None:
    # Nine in the evening in Chicago, by which it is tomorrow in Greenwich.
    county.clock.pass_(hours=7)
    assert county.clock().date() > county.settings.today()
    call = county.add("evening", "report", {"how": "call", "words": "It came up again.", "who": "a neighbor"})
    desk = desk_of(county)
    form = {"form_token": "x", "text": "We come tomorrow."}
    assert county.ask("Cora", "POST", f"/calls/{call}/answer", data=form, follow_redirects=False).status_code == 303
    answered = desk.calls.get(call, county.settings.today())
    assert answered is not None and answered.answered is not None
    assert "It came up again." not in county.get("Cora", "/").text


def test_at_the_desk_it_is_written_down_who_has_to_do_with_a_site_and_who_lets_us_in(county: World) -> None:
    def send(**form: object) -> int:
        answer = county.ask("Cora", "POST", f"/sites/{OWN}/people", data=form, follow_redirects=False)
        return int(answer.status_code)

    said = {"name": "Hal Moss", "reach": "555-0104", "consent": "yes", "consent_on": "2026-06-02"}
    assert send(**said) == 422  # who is new is something to the place
    assert send(**said, role=["farms", "decides"]) == 303
    text = county.get("Cora", f"/sites/{OWN}").text
    assert "We may go in: Hal Moss said so on Tuesday, June 2, 2026. 555-0104" in text
    assert "Hal Moss said so" in county.get("Sam", f"/sites/{OWN}").text
    # The same person again: what is not said stays as it was; the last word counts.
    assert send(name="hal moss", consent="no") == 303
    assert "Do not go in: entry was refused on Thursday, June 18, 2026." in county.get("Sam", f"/sites/{OWN}").text
    assert len([one for one in county.ledger.standing(OWN).of("party") if "Hal" in str(one.body)]) == 1
    wrongs = [{"consent_on": "2026-06-02"}, {"consent": "perhaps"}, {"role": "landlord"}, {"name": ""}]
    wrongs += [{"consent": "yes", "consent_on": day} for day in ("2026-06-30", "tomorrow")]
    for wrong in wrongs:
        assert send(**({"name": "Hal Moss"} | wrong)) == 422, wrong
    assert county.ask("Sam", "POST", f"/sites/{OWN}/people", data=said | {"role": "farms"}).status_code == 404


def test_a_photo_in_the_record_leads_to_the_photo(county: World) -> None:
    assert f'href="/photos/{county.made["own picture"]}?w=1600"' in county.get("Sam", f"/sites/{OWN}").text
