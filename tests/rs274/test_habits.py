from toolpath.rs274.habits import Habit, Habits


def test_a_habit_is_told_once_with_its_first_line_and_its_number():
    habits = Habits()
    for line in (4, 5, 9):
        habits.meet(Habit.SEMICOLON, line)
    habits.meet(Habit.LAST_FENCE, 12)
    assert habits.told() == [
        (4, f"{Habit.SEMICOLON.value} (3 times)"),
        (12, Habit.LAST_FENCE.value),
    ]
    assert Habits().told() == []
