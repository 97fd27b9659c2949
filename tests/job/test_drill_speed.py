import pytest


# The rows of the table of drilling speeds (common practice, no source).
@pytest.mark.parametrize(
    ("diameter", "slowest", "fastest"),
    [
        (1.5, 3000, 5000),
        (3, 1500, 2500),
        (6, 800, 1500),
        (10, 500, 900),
        (20, 250, 500),
        (30, 250, 500),
    ],
)
def test_fast_drills_are_warned_of(alarms, read, edited, diameter, slowest, fastest) -> None:
    def job(rpm: float):
        return read(
            edited(
                ("diameter = 5", f"diameter = {diameter}"),
                ("rpm = 1500", f"rpm = {rpm}\nshank = 5"),
                ("flute_length = 50\nreach = 55", "flute_length = 70\nreach = 75"),
                ("spindle = [800, 24000]", "spindle = [100, 24000]"),
            )
        )

    assert alarms(job(fastest)) == []
    (warned,) = alarms(job(fastest + 1))
    assert warned.where == 'cut[2] "spindle hole": cutter'
    assert warned.message == (
        f'"drill 5", a drill, turns at {fastest + 1} rev/min, which is fast for a hole of '
        f"{diameter} mm (a drill press turns {slowest} to {fastest} in plastics): what gets hot "
        "melts or burns, so take the slowest speed and short pecks, or only mark the hole and "
        "drill it elsewhere"
    )


def test_end_mills_are_fast_for_holes(alarms, read, edited) -> None:
    text = edited(
        ('cutter = "drill 5"', 'cutter = "flat 6" # too'),
        ("flute_length = 35", "flute_length = 45"),
    )
    (warned,) = alarms(read(text))
    assert warned.message.startswith('"flat 6", an end mill, turns at 16000 rev/min')


@pytest.mark.parametrize(
    ("material", "name", "heat"),
    [
        ("MDF", "MDF", "burns and blunts the edge"),
        ("alu", "aluminium", "welds to the edge"),
        ("clear resin", "cast resin", "melts and smears"),
    ],
)
def test_the_warning_names_what_is_drilled(alarms, read, edited, material, name, heat) -> None:
    fast = ("rpm = 1500", "rpm = 3000")
    told = alarms(read(edited(fast, ('"casting plaster"', f'"{material}"'))))
    # Between 3 mm at 1500 to 2500 and 6 mm at 800 to 1500 (common practice, no source).
    words = f"in {name} (a drill press turns 1030 to 1830 in plastics): what gets hot {heat}, so"
    assert any(words in each.message for each in told)
