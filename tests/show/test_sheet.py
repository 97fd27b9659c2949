import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from toolpath.job.model import Warned
from toolpath.show.pictures import section_name
from toolpath.show.sheet import begin_sheet, make_sheet

# HTML Living Standard, 13.1.2: void elements have no end tag.
VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr"}
PIXEL = b"\x89PNG\r\n\x1a\n"
BAD = '</style><script>alert("x")</script>{{ 7*7 }}\x00\x1b\u202e\ud800 "onload="'


def sheet_of(scene, pictures):
    return make_sheet(begin_sheet(scene, pictures=pictures is not None), pictures or {})


class Reader(HTMLParser):
    """Keeps open tags, and fails where one closes that is not the last one opened."""

    def __init__(self) -> None:
        super().__init__()
        self.open, self.tags, self.links, self.words = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("src", "href", "action")]
        assert not [name for name, _ in attrs if name.startswith("on")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, f"</{tag}> in {self.open[-3:]}"

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words))


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def rename(scene, name):
    """The same scene with that name on everything that a job can name."""
    job = scene.job
    programs = []
    for program in scene.programs:
        cuts = []
        for view in program.cuts:
            cut = replace(view.planned.cut, name=name)
            planned = replace(view.planned, cut=cut, notes=(name,))
            near = view.closest and replace(view.closest, piece=name)
            findings = tuple(replace(f, message=name, piece=name, mend=name) for f in view.findings)
            refusal = name if view.refusal else ""
            changed = {"planned": planned, "closest": near, "findings": findings}
            cuts.append(replace(view, refusal=refusal, **changed))
        cutter = replace(program.cutter, name=name)
        programs.append(replace(program, cuts=tuple(cuts), cutter=cutter, file=name))
    job = replace(
        job,
        name=name,
        file=job.file.with_name("clock.toml"),
        blank=replace(job.blank, material=name),
        pieces=tuple(replace(piece, name=name) for piece in job.pieces),
        clamps=tuple(replace(clamp, name=name) for clamp in job.clamps),
        warnings=(Warned(where=name, message=name),),
    )
    return replace(scene, job=job, programs=tuple(programs))


def test_every_cut_cutter_program_clamp_and_warning_is_there(scene):
    text = read(sheet_of(scene, None)).text
    for program in scene.programs:
        assert program.file in text and program.cutter.name in text
        for view in program.cuts:
            assert f"{view.number} {view.planned.cut.name}" in text
    for clamp in scene.job.clamps:
        assert clamp.name in text
    for warned in scene.job.warnings:
        assert warned.where in text and warned.message in text
    for piece in scene.job.pieces:
        assert piece.name in text


def test_what_a_maker_has_to_read(scene):
    text = read(sheet_of(scene, None)).text
    for words in (
        "set-up 1 of 2",
        "FRONT",
        "BACK",
        "STOP if the thickness anywhere differs from 42 mm by more than 0.2 mm",
        "as it is before any cut",
        "touched off Z",
        "lost steps",
        "Check against the actual blank",
        "licensed person",
        "no extractor full of fines",
        "Never leave it running alone",
    ):
        assert words in text
    assert "REFUSED" not in text


def test_nothing_is_called_safe(scene, refused):
    for one in (scene, refused):
        assert "safe" not in sheet_of(one, None).lower()


def test_a_refused_job_says_so_first(refused):
    text = read(sheet_of(refused, None)).text
    assert text.index("REFUSED") < text.index("set-up 1")
    assert "No program was written" in text
    assert "too near a piece: pebble 3, 0.2 mm left, 1.02 mm needed" in text
    assert "stay above 11.98 mm here" in text
    assert "no room for a helix or a ramp" in text
    assert text.count("(not written)") == len(refused.programs)


def test_metal_is_only_warned_of_where_there_is_some(scene):
    stones = tuple(p for p in scene.job.pieces if p.name == "pebble 3")
    plain = replace(scene, job=replace(scene.job, pieces=stones))
    assert "Metal in this blank" in sheet_of(scene, None)
    assert "Metal in this blank" not in sheet_of(plain, None)


@pytest.mark.parametrize("stop", [False, True])
def test_hostile_names_stay_text(make_clock, stop):
    html = sheet_of(rename(make_clock(refused=stop), BAD), {})
    reader = read(html)
    assert "script" not in reader.tags
    assert reader.tags.count("style") == 1
    assert '<script>alert("x")</script>{{ 7*7 }}' in reader.text
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\u202e]", html)
    assert html.encode("utf-8")


def test_it_refers_to_nothing_outside(scene):
    view = scene.programs[0].cuts[0]
    pictures = {"plan-front.png": PIXEL, "plan-back.png": PIXEL, section_name(view): PIXEL}
    html = sheet_of(scene, pictures)
    reader = read(html)
    assert len(reader.links) == 5
    assert all(link.startswith("data:image/png;base64,") for link in reader.links)
    assert "http" not in html and "url(" not in html and "@import" not in html
    assert not {"script", "link", "iframe", "object"} & set(reader.tags)


def test_words_alone_need_no_pictures(scene):
    assert "img" not in read(sheet_of(scene, None)).tags


def test_the_same_text_each_time(scene):
    assert sheet_of(scene, {"plan-front.png": PIXEL}) == sheet_of(scene, {"plan-front.png": PIXEL})


def test_it_prints_on_any_paper(scene):
    html = sheet_of(scene, None)
    page = re.search(r"@page\s*{([^}]*)}", html)
    assert page and "margin" in page[1] and "size" not in page[1]
    assert html.count('<section class="setup') == 2
    assert "break-before: page" in html
