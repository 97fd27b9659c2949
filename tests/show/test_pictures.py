from dataclasses import replace

from toolpath.show.pictures import MOST_SECTIONS, draw_all, section_name, sections_of


def test_a_plan_for_each_face_and_a_section_for_each_place(refused, tmp_path):
    told = []
    written = draw_all(refused, tmp_path / "pictures", told.append)
    names = [path.name for path in written]
    assert names == [
        "plan-front.png",
        "plan-back.png",
        "margin-front.png",
        "uncut-front.png",
        "margin-back.png",
        "uncut-back.png",
        "thickness-left.png",
        "section-01-dial-recess.png",
        "section-02-hands.png",
        "section-03-movement.png",
        "section-05-edge-groove.png",
        "section-06-spindle-hole.png",
    ]
    assert set(told) <= set(names)
    assert "margin-front.png" in told
    assert sorted(p.name for p in (tmp_path / "pictures").iterdir()) == sorted(names)


def test_no_more_than_eight_sections_and_the_worst_are_among_them(refused):
    program = refused.programs[0]
    bad, good = program.cuts
    more = [replace(good, number=n) for n in range(10, 30)]
    far = [replace(view, closest=replace(view.closest, gap=30.0 - view.number)) for view in more]
    many = replace(refused, programs=(replace(program, cuts=(*far, replace(bad, number=40))),))
    chosen = [view.number for view in sections_of(many)]
    assert len(chosen) == MOST_SECTIONS
    assert chosen == [23, 24, 25, 26, 27, 28, 29, 40]


def test_names_of_sections_are_plain(scene):
    view = scene.programs[0].cuts[0]
    cut = replace(view.planned.cut, name="../../Ä b")
    odd = replace(view, planned=replace(view.planned, cut=cut))
    assert section_name(odd) == "section-01-a-b.png"
