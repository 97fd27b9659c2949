from shapely.geometry import box

from toolpath.plan.descend import go_down
from toolpath.plan.gone import Gone
from toolpath.plan.route import Route


def test_rapids_go_down_to_half_a_millimetre_above_what_is_known_to_be_gone(shop):
    gone = Gone(-2.0)
    gone.add(-5.0, box(0, 0, 20, 20))
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=(0.0, 0.0))
    # 3 mm of cutter and 0.3 mm of air all round fit at 10, 10 but not at 3.2, 10.
    for spot, low in (((10.0, 10.0), -4.5), ((3.2, 10.0), -1.0), ((50.0, 50.0), -1.0)):
        go_down(route, spot, -5.0, gone)
        assert route.at == (*spot, low)
    go_down(route, (10.0, 10.0), -5.1, gone)
    assert route.at[2] == -1.0


def test_rapids_go_all_the_way_where_what_lies_under_is_gone_too(shop):
    gone = Gone(0.0)
    gone.add(-5.0, box(0, 0, 20, 20))
    route = Route(cutter=shop.cutter(), machine=shop.machine(), safe=6.0, start=(0.0, 0.0))
    for z, low in ((-2.0, -2.0), (-4.5, -4.5), (-4.6, -4.1)):
        go_down(route, (10.0, 10.0), z, gone)
        assert route.at[2] == low
