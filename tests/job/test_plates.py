import pytest

from toolpath.job.model import Sheet, Tabs

PLATE = """
[[plate]]
for = "works"
cutter = "flat 6"
stock = { size = [130, 120], thickness = 3.1, material = "cast acrylic" }
"""
WHERE = "job.toml: plate[1]: "
LEDGE = ("depth = 20", "depth = 20\nledge = { width = 12, depth = 3 }")


@pytest.fixture
def covered(edited):
    """The clock with a ledge round its works and a plate for it, texts exchanged in the plate."""

    def job(*changes: tuple[str, str], plate: str = PLATE) -> str:
        return edited(LEDGE) + edited(*changes, text=plate)

    return job


@pytest.fixture
def skimmed_first():
    """The same with 1 mm off the face of the works (the back) before all else."""
    skim = '[[cut]]\nname = "skim"\nface = "back"\ndo = "face"\ndepth = 1\ncutter = "flat 6"\n\n'

    def job(text: str) -> str:
        head, tail = text.split("[[cut]]", 1)
        return f"{head}{skim}[[cut]]{tail}"

    return job


def test_defaults(read, covered) -> None:
    job = read(covered())
    (plate,) = job.plates
    assert plate.cut is job.cuts[0] and plate.cutter.name == "flat 6"
    assert (plate.gap, plate.skin, plate.screws) == (0.25, 0.0, None)
    assert plate.sheet == Sheet(size=(130.0, 120.0), thickness=3.1, material="cast acrylic")
    assert plate.tabs == Tabs(count=4, width=4.0, height=1.0)


def test_the_tabs_of_a_thin_sheet_are_a_third_of_it(read, covered) -> None:
    (plate,) = read(covered(("thickness = 3.1", "thickness = 1.5"))).plates
    assert plate.tabs.height == pytest.approx(0.5)


def test_tabs_or_a_skin(read, covered) -> None:
    tabs = "gap = 0.1\ntabs = { count = 2, width = 5, height = 0.4 }"
    (plate,) = read(covered(('cutter = "flat 6"', f'cutter = "flat 6"\n{tabs}'))).plates
    assert plate.tabs == Tabs(count=2, width=5.0, height=0.4) and plate.gap == 0.1
    (plate,) = read(covered(('cutter = "flat 6"', 'cutter = "flat 6"\nskin = 0.3'))).plates
    assert (plate.tabs, plate.skin) == (None, 0.3)


def test_the_ledge_counts_from_the_skimmed_face(read, covered, skimmed_first) -> None:
    job = read(skimmed_first(covered()))
    (warned,) = (each for each in job.warnings if each.where == "plate[1]: stock")
    assert warned.message == (
        "the sheet is 3.1 mm thick, the ledge 2 mm deep below the skimmed face: the plate will "
        "stand 1.1 mm proud of the face"
    )


@pytest.mark.parametrize(
    ("thickness", "words"),
    [
        (3.05, "flush, within 0.05 mm"),
        (2.95, "flush, within 0.05 mm"),
        (3.06, "stand 0.06 mm proud of the face"),
        (2.7, "lie 0.3 mm shy of the face"),
    ],
)
def test_how_the_plate_will_lie_is_said(read, covered, thickness: float, words: str) -> None:
    job = read(covered(("thickness = 3.1", f"thickness = {thickness}")))
    (warned,) = (each for each in job.warnings if each.where == "plate[1]: stock")
    assert warned.message.startswith(f"the sheet is {thickness} mm thick, the ledge 3 mm deep: ")
    assert warned.message.endswith(words)


CUTTER = 'cutter = "flat 6"'
FAULTS = [
    ('for = "works"', 'for = "work"', 'for: no cut is named "work": did you mean "works"?'),
    ('for = "works"', "", "for: missing: give the name of a cut that has a ledge"),
    ('for = "works"', 'for = "minute ring"',
     'for: the cut "minute ring" has no ledge to lay a plate on: give it one'),
    ('cutter = "flat 6"', 'cutter = "vee 60"',
     'cutter: not yet: a plate with a vee cutter ("vee 60") comes with a later version; use one '
     "of shape flat"),
    (CUTTER, 'cutter = "flat"', 'cutter: no cutter is named "flat": did you mean "flat 6"?'),
    (CUTTER, f"{CUTTER}\ngap = -0.1", "gap: -0.1 mm must be at least 0 mm"),
    (CUTTER, f"{CUTTER}\ngap = 47.1",
     "gap: 47.1 mm on every side leaves nothing of the plate: less"),
    (CUTTER, f"{CUTTER}\nskin = 0.3\ntabs = {{ count = 2, width = 5, height = 1 }}",
     "skin: given together with tabs: leave one of them out"),
    (CUTTER, f"{CUTTER}\nskin = 3.1",
     "skin: 3.1 mm must be less than the sheet is thick (3.1 mm)"),
    (CUTTER, f"{CUTTER}\ntabs = {{ count = 2, width = 5, height = 3.1 }}",
     "tabs: height: 3.1 mm must be less than the sheet is thick (3.1 mm)"),
    ("thickness = 3.1, ", "",
     'stock: thickness: missing: give a length such as 6, "6 mm" or "1/4 in"'),
    ("size = [130, 120], ", "", "stock: size: missing: give [x, y]"),
    (CUTTER, f"{CUTTER}\nsheet = 3", 'sheet: unknown key: did you mean "screws"?'),
    ("thickness = 3.1", "thickness = 36",
     'cutter: "flat 6" has flutes of 35 mm, less than the 36.5 mm that this cut goes down, and '
     "its shank is no thinner than they are: take longer flutes or a thinner shank"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line"), FAULTS)
def test_plates_that_are_wrong(faults, covered, old: str, new: str, line: str) -> None:
    (told,) = faults(covered((old, new)))
    assert told.startswith(WHERE + line.split(": did you")[0])


def test_a_cut_takes_one_plate(faults, covered) -> None:
    assert faults(covered(plate=PLATE + PLATE)) == [
        'job.toml: plate[2]: for: plate[1] is for "works" too: a ledge takes one plate'
    ]


def test_the_faults_of_a_cut_are_told_once(faults, covered) -> None:
    (line,) = faults(covered().replace('do = "pocket"', 'do = "pockt"'))
    assert line.startswith('job.toml: cut[1] "works": do: ')
