from toolpath.job.model import Side
from toolpath.show.panel import legend_handles
from toolpath.show.plan_data import plan_data


def labels(scene, side):
    return [handle.get_label() for handle in legend_handles(plan_data(scene, side))]


def test_only_signs_that_are_on_the_picture(scene, whole_scene):
    plain, rich = labels(scene, Side.BACK), labels(whole_scene, Side.BACK)
    extra = {"ledge for a plate", "piece that may be cut", "register pin", "odd mark: must match"}
    assert not extra & set(plain)
    assert extra <= set(rich)
