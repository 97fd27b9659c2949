from dataclasses import replace

from toolpath.job.model import Skim
from toolpath.show.sheet_plates import plate_pages
from toolpath.show.words import Lengths
from toolpath.units import Unit

MM = Lengths(unit=Unit.MM)


def page(scene, **changes):
    plate = scene.plates[0]
    changed = replace(plate, plate=replace(plate.plate, **changes))
    return plate_pages(replace(scene, plates=(changed,)), MM)[0]


def test_sheet_size_gap_and_step(whole_scene):
    facts = dict(page(whole_scene).facts)
    assert facts["sheet, at least"] == "120 mm × 120 mm"
    assert facts["plate as cut"] == "89.5 mm × 89.5 mm"
    assert facts["gap to the ledge, each side"] == "0.25 mm"
    assert facts["in its ledge it lies"] == "0.1 mm proud of the face"
    sheet = whole_scene.plates[0].plate.sheet
    thin, flush = (replace(sheet, thickness=t) for t in (2.7, 3.0))
    assert dict(page(whole_scene, sheet=thin).facts)["in its ledge it lies"].startswith(
        "0.3 mm shy"
    )
    assert "flush" in dict(page(whole_scene, sheet=flush).facts)["in its ledge it lies"]


def test_pilots_and_holes_each_in_the_numbers_of_their_set_up(whole_scene):
    screws = dict(page(whole_scene).screws)
    assert screws["holes in the plate"] == "3.4 mm, at 15, 15; 95, 95"
    # Drilled from the back, turned left to right: x' = 400 - x.
    assert screws["pilots in the ledge"].endswith("at 240, 100; 160, 180")
    assert page(whole_scene, screws=None).screws == ()


def test_programs_with_their_codes(whole_scene):
    found = page(whole_scene)
    assert [(p[0], p[3]) for p in found.programs] == [("07-plate-flat-6.nc", "P1P1")]
    assert found.picture == "plan-plate-movement.png"


def test_a_plate_lies_against_the_face_as_it_is_once_skimmed(whole_scene):
    plate = whole_scene.plates[0].plate
    cut = plate.cut
    skim = Skim(
        name="skim",
        face=cut.face,
        cutter=cut.cutter,
        depth=1.0,
        outline=(whole_scene.job.blank.outline,),
    )
    job = replace(whole_scene.job, cuts=(skim, *whole_scene.job.cuts))
    facts = dict(page(replace(whole_scene, job=job)).facts)
    # Sheet 3.1 mm, ledge 3 mm below the face before any cut.
    assert facts["in its ledge it lies"] == "1.1 mm proud of the skimmed face"
